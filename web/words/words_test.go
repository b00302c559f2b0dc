package words

import (
	"bytes"
	"context"
	"testing"
	"testing/fstest"
	"time"

	"github.com/a-h/templ"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/language"
)

var (
	inEnglish = In(context.Background(), language.English)
	inGerman  = In(context.Background(), language.German)
)

// with puts other texts in the place of ours for a test.
func with(t *testing.T, files map[string]string) {
	t.Helper()
	ours, made := texts, fstest.MapFS{}
	for name, content := range files {
		made[name] = &fstest.MapFile{Data: []byte(content)}
	}
	c, err := load(made)
	require.NoError(t, err)
	texts = c
	t.Cleanup(func() { texts = ours })
}

func TestTextsOfALanguage(t *testing.T) {
	with(t, map[string]string{
		"a.en.yaml": "hello: Hello {{.Name}}\nleft: {one: '{{.Count}} beetle is left', other: '{{.Count}} beetles are left'}\nplain: Plain",
		"a.de.yaml": "hello: Guten Tag, {{.Name}}\nleft: {one: 'Ein Käfer bleibt', other: '{{.Count}} Käfer bleiben'}\nplain: Schlicht",
	})
	require.Equal(t, "Hello <Ada>", T(context.Background(), "a.hello", "Name", "<Ada>"))
	require.Equal(t, "Guten Tag, Ada", T(inGerman, "a.hello", "Name", "Ada"))
	require.Equal(t, "Schlicht", T(inGerman, "a.plain"))
	require.Equal(t, "1 beetle is left", N(inEnglish, "a.left", 1))
	require.Equal(t, "0 beetles are left", N(inEnglish, "a.left", 0))
	require.Equal(t, "1,200 beetles are left", N(inEnglish, "a.left", 1200))
	require.Equal(t, "Ein Käfer bleibt", N(inGerman, "a.left", 1))
	require.Equal(t, "1.200 Käfer bleiben", N(inGerman, "a.left", 1200))
	require.True(t, Has("a.plain"))
	require.False(t, Has("a.other"))
	require.Equal(t, map[string]string{"hello": "Guten Tag, {{.Name}}", "left": "{{.Count}} Käfer bleiben", "plain": "Schlicht"}, Raw(inGerman, "a"))
}

func TestWhatIsMissingStopsATest(t *testing.T) {
	with(t, map[string]string{"a.en.yaml": "hello: Hello {{.Name}}\nonly: Only here", "a.de.yaml": "hello: Guten Tag, {{.Name}}"})
	require.Panics(t, func() { T(inEnglish, "a.goodbye") })
	require.Panics(t, func() { T(inEnglish, "a.hello") }, "no value")
	require.Panics(t, func() { T(inEnglish, "a.hello", "Name") }, "half a value")
	require.Panics(t, func() { T(inGerman, "a.only") }, "no German")
}

func TestLanguageThatSomebodyWishes(t *testing.T) {
	for wish, want := range map[string]language.Tag{
		"": language.English, "de": language.German, "de-CH, fr;q=0.8": language.German, "fr, de;q=0.5, en;q=0.1": language.German, "en-US,de;q=0.9": language.English,
		"fr": language.English, "nonsense;;": language.English, "gsw": language.German, // Swiss German is closer to German (CLDR, language matching)
	} {
		require.Equal(t, want, Match("", wish), wish)
	}
	require.Equal(t, language.German, Match("de", "en"), "what was chosen comes first")
	require.Equal(t, language.English, Tag(In(context.Background(), language.French)))
	tag, ok := Of("de")
	require.True(t, ok)
	require.Equal(t, language.German, tag)
	_, ok = Of("fr")
	require.False(t, ok)
}

// Unicode CLDR: numbers and dates of en-GB and de. A space before the sign of per cent: ISO 80000-1 and DIN 5008, from memory.
func TestNumbersAndDates(t *testing.T) {
	require.Equal(t, "1,234.5", Number(inEnglish, 1234.5))
	require.Equal(t, "1.234,5", Number(inGerman, 1234.5))
	require.Equal(t, "−0,25", Number(inGerman, -0.25))
	require.Equal(t, "0.0", Fixed(inEnglish, -0.01, 1))
	require.Equal(t, "0,950", Fixed(inGerman, 0.95, 3))
	require.Equal(t, "45 %", Percent(inEnglish, 0.45, 0))
	require.Equal(t, "45,5\u00a0%", Percent(inGerman, 0.455, 1))
	at := time.Date(2026, 5, 14, 22, 41, 7, 0, time.UTC)
	require.Equal(t, "14 May 2026", Date(inEnglish, at))
	require.Equal(t, "14. Mai 2026", Date(inGerman, at))
	require.Equal(t, "14. Mai 2026, 22:41 UTC", DateTime(inGerman, at))
	berlin, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	require.Equal(t, "15 May 2026, 00:41", DateTime(InZone(inEnglish, berlin), at), "two hours ahead of UTC in summer")
	require.Equal(t, "15. Mai 2026", Date(InZone(inGerman, berlin), at))
}

func TestTagsOfATextBecomeHTMLAndValuesDoNot(t *testing.T) {
	with(t, map[string]string{
		"a.en.yaml": "see: \"See <a>{{.Name}}</a>, <em>please</em>: <when/>\"\nn: {one: '<a>one</a>', other: '<a>{{.Count}}</a>'}\nwrong: <b>x</b> <nobody>y</nobody>",
		"a.de.yaml": "see: \"<em>Bitte</em> <a>{{.Name}}</a> ansehen: <when/>\"\nn: {one: '<a>eins</a>', other: '<a>{{.Count}}</a>'}\nwrong: x",
	})
	draw := func(ctx context.Context, c templ.Component) string {
		var b bytes.Buffer
		require.NoError(t, c.Render(ctx, &b))
		return b.String()
	}
	parts := Parts{"a": Link("/x?a=1&b=2"), "when": Put(templ.Raw("<time>now</time>"))}
	require.Equal(t, `See <a href="/x?a=1&amp;b=2">&lt;a&gt;&amp;&lt;when/&gt;</a>, <em>please</em>: <time>now</time>`, draw(inEnglish, Rich("a.see", parts, "Name", "<a>&<when/>")))
	require.Equal(t, `<em>Bitte</em> <a href="/x?a=1&amp;b=2">Ada</a> ansehen: <time>now</time>`, draw(inGerman, Rich("a.see", parts, "Name", "Ada")))
	require.Equal(t, `<a href="/y">2</a>`, draw(inGerman, RichN("a.n", 2, Parts{"a": Link("/y")})))
	require.NotContains(t, draw(inEnglish, RichN("a.n", 1, Parts{"a": Link("javascript:alert(1)")})), "javascript")
	require.Panics(t, func() { draw(inEnglish, Rich("a.wrong", nil)) })
}

func BenchmarkText(b *testing.B) {
	for b.Loop() {
		T(inGerman, "layout.skip")
	}
}

func BenchmarkTextWithValues(b *testing.B) {
	for b.Loop() {
		T(inGerman, "layout.who", "Name", "Ada", "Role", "x")
	}
}

package pages

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/text/unicode/bidi"
)

// What stands before and behind a typed text must be seen there, whatever is typed. The order in which letters are seen is
// that of golang.org/x/text/unicode/bidi, which follows Unicode Standard Annex 9; FSI and PDI are to plain text what <bdi>
// is to HTML (the same, section 2.4).
func TestTypedReordersNothing(t *testing.T) {
	for _, hostile := range []string{"אבג", "אבג 12", "12 אבג", "ش 2026-01-01", "(אבג", "\u202Eevil", "\u202Eevil\u202C", "\u2067evil", "\u2067evil\u2069",
		"\u2069\u202Eevil", "\u2066\u2069\u2069\u202Eabc", "\u202D12 אבג", "אבג\u202Eabc", "\uFDD1\u202Eabc", "\u200Fabc", "\u061C12"} {
		line := isolates.Replace("12 by " + typed(hostile) + " on 2026-05-14 (3)")
		seen := seenOrder(t, line)
		require.True(t, strings.HasPrefix(seen, "12 by "), "%q is seen as %q", hostile, seen)
		require.True(t, strings.HasSuffix(seen, " on 2026-05-14 (3)"), "%q is seen as %q", hostile, seen)
	}
	require.NotContains(t, seenOrder(t, "12 by \u202Eevil on 2026-05-14 (3)"), "2026-05-14", "as it is typed, the check sees it")
}

// seenOrder is a line as it is seen in a paragraph from left to right.
func seenOrder(t *testing.T, line string) string {
	t.Helper()
	var p bidi.Paragraph
	_, err := p.SetString(line, bidi.DefaultDirection(bidi.LeftToRight))
	require.NoError(t, err)
	order, err := p.Order()
	require.NoError(t, err)
	var seen strings.Builder
	for i := range order.NumRuns() {
		run := order.Run(i)
		text := run.String()
		if run.Direction() == bidi.RightToLeft {
			text = bidi.ReverseString(text)
		}
		seen.WriteString(text)
	}
	return strings.NewReplacer(firstStrongIsolate, "", popIsolate, "").Replace(seen.String())
}

func TestIsolate(t *testing.T) {
	const rlo, name = "\u202E", "אבג"
	for given, want := range map[string]string{
		"<p>Ada Beetle, “naïve”</p>":                                "<p>Ada Beetle, “naïve”</p>",
		"<p>by " + typed(name) + " on</p>":                          "<p>by <bdi>אבג</bdi> on</p>",
		"<p>by " + typed("a"+rlo) + " on</p>":                       "<p>by <bdi>a[U+202E]</bdi> on</p>",
		"<title>" + typed(name) + rlo + "</title><p>a</p>":          "<title>\u2068אבג\u2069[U+202E]</title><p>a</p>",
		"<option>" + typed(name) + "</option>" + typed(name):        "<option>\u2068אבג\u2069</option><bdi>אבג</bdi>",
		"<p>“" + name + " 1 " + name + "” is no a " + name + "</p>": "<p>“<bdi>אבג 1 אבג</bdi>” is no a <bdi>אבג</bdi></p>",
		"<p>" + name + typed(name) + rlo + "</p>":                   "<p><bdi>אבג</bdi><bdi>אבג</bdi><bdi>[U+202E]</bdi></p>",
		`<input value="a` + rlo + `" title="` + rlo + `">` + name:   `<input value="a` + rlo + `" title="[U+202E]"><bdi>אבג</bdi>`,
		`<img alt="` + typed(name) + ` > b">` + rlo:                 "<img alt=\"\u2068אבג\u2069 > b\"><bdi>[U+202E]</bdi>",
		"<textarea a=\"b\">" + rlo + name + "</textarea>" + name:    "<textarea a=\"b\">" + rlo + name + "</textarea><bdi>אבג</bdi>",
		"<p>\uFDD0 \uFDD1 \uFDD1</p>":                               "<p><bdi> </bdi> </p>",
		"<p>&#34;" + name + "&#34;</p":                              "<p>&#34;<bdi>אבג</bdi>&#34;</p",
	} {
		require.Equal(t, want, string(Isolate([]byte(given))))
	}
	for _, plain := range []string{"", "Ada", "Käfer – “naïve” 12 ♀", "Жук", "甲虫", "e\u0301"} {
		require.Equal(t, plain, typed(plain), "what cannot reorder anything stays as it is")
	}
	require.Equal(t, typed(name), typed(typed(name)))
}

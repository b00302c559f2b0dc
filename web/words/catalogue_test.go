package words

import (
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/nicksnyder/go-i18n/v2/i18n"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/language"
)

var place = regexp.MustCompile(`\{\{\.([A-Za-z]+)\}\}`)

// shape is what two languages must have in common: the places, tags and plural forms of a text.
func shape(m *i18n.Message) (places, tags []string, plural bool) {
	for _, found := range place.FindAllStringSubmatch(m.Other, -1) {
		places = append(places, found[1])
	}
	tags = append(tags, tagForm.FindAllString(m.Other, -1)...)
	slices.Sort(places)
	slices.Sort(tags)
	return slices.Compact(places), tags, m.One != ""
}

func TestEveryTextIsThereInEveryLanguage(t *testing.T) {
	for _, tag := range Languages[1:] {
		for id, english := range texts.messages[Languages[0]] {
			other, ok := texts.messages[tag][id]
			if !assert.True(t, ok, "%s is missing in %s", id, tag) {
				continue
			}
			places, tags, plural := shape(english)
			theirs, theirTags, theirPlural := shape(other)
			assert.Equal(t, places, theirs, "%s in %s: places", id, tag)
			assert.Equal(t, tags, theirTags, "%s in %s: tags", id, tag)
			assert.Equal(t, plural, theirPlural, "%s in %s: plural forms", id, tag)
		}
		for id := range texts.messages[tag] {
			assert.Contains(t, texts.messages[Languages[0]], id, "%s has no English", id)
		}
	}
}

// Texts are put into HTML as they are where they have tags, and as text elsewhere: neither may hold what only the other reads.
func TestTextsHoldNothingThatHTMLWouldRead(t *testing.T) {
	for tag, messages := range texts.messages {
		for id, m := range messages {
			for _, text := range []string{m.One, m.Other} {
				bare := tagForm.ReplaceAllString(text, "")
				if bare != text {
					assert.NotRegexp(t, `[<>&]`, bare, "%s in %s", id, tag)
				}
				assert.NotRegexp(t, `\{\{`, place.ReplaceAllString(text, ""), "%s in %s: a place is not like {{.Name}}", id, tag)
				assert.Equal(t, strings.TrimSpace(text), text, "%s in %s: spaces round it", id, tag)
				assert.NotContains(t, text, "  ", "%s in %s", id, tag)
			}
		}
	}
}

// German is written with its own quotation marks, and not with a hyphen for a dash (Duden, Zeichensetzung: Anführungszeichen, Gedankenstrich).
func TestGermanIsSetAsGermanIs(t *testing.T) {
	for id, m := range texts.messages[language.German] {
		for _, text := range []string{m.One, m.Other} {
			assert.NotRegexp(t, `["]`, text, id)
			assert.NotContains(t, text, " - ", id)
			assert.Equal(t, strings.Count(text, "„"), strings.Count(text, "“"), "%s: quotation marks", id)
			assert.NotRegexp(t, `[0-9}] %`, text, "%s: a line may end before %%", id)
		}
	}
}

func TestFilesThatAreRefused(t *testing.T) {
	for name, c := range map[string]struct{ file, content, says string }{
		"a language unknown":  {"a.fr.yaml", "x: y", "language"},
		"no language":         {"a.yaml", "x: y", "language"},
		"an empty text":       {"a.en.yaml", "x: ''", "a.x"},
		"no text":             {"a.en.yaml", "x: [1]", "a.x"},
		"one form alone":      {"a.en.yaml", "x: {other: y}", "both"},
		"a form of elsewhere": {"a.en.yaml", "x: {one: y, other: y, few: y}", "few"},
		"a key twice":         {"a.en.yaml", "x: y\nx: z", "a.en.yaml"},
	} {
		_, err := load(fstest.MapFS{c.file: {Data: []byte(c.content)}})
		require.ErrorContains(t, err, c.says, name)
	}
}

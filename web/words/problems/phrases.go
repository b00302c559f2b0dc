package problems

import (
	"cmp"
	"maps"
	"regexp"
	"slices"
	"strings"

	"golang.org/x/text/language"
)

// phrase is an English text with places {} for anything, and what it is in another language.
type phrase struct {
	english *regexp.Regexp
	to      string // {1}, {2} … are what stands in the places
}

// phrasesOf are sorted so that the one with the most words of its own is tried first.
func phrasesOf(texts map[string]string) []phrase {
	keys := slices.SortedFunc(maps.Keys(texts), func(a, b string) int {
		return cmp.Or(cmp.Compare(len(b), len(a)), cmp.Compare(a, b))
	})
	found := make([]phrase, len(keys))
	for i, key := range keys {
		pattern := strings.ReplaceAll(regexp.QuoteMeta(key), `\{\}`, "(.*)")
		found[i] = phrase{regexp.MustCompile("(?s)^" + pattern + "$"), texts[key]}
	}
	return found
}

// said is a phrase in a language; what is none stays as it is.
func said(tag language.Tag, text string) string {
	for _, p := range phrases[tag] {
		found := p.english.FindStringSubmatch(text)
		if found == nil {
			continue
		}
		to := p.to
		for i, place := range found[1:] {
			to = strings.ReplaceAll(to, "{"+string(rune('1'+i))+"}", said(tag, place))
		}
		return to
	}
	return text
}

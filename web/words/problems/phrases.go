package problems

import (
	"cmp"
	"context"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"revidit/web/words"
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

var verbForm = regexp.MustCompile(`%(?:\[(\d+)\])?[#+.0-9]*([a-z])`)

// asPhrases turns formats of errors, by their codes, and what they are in another language into phrases, beside those that there are.
func asPhrases(english, other, texts map[string]string) map[string]string {
	made := maps.Clone(texts)
	for code, format := range english {
		made[placed(format, func(int) string { return "{}" }, `"`, `"`)] = placed(other[code], func(n int) string { return "{" + strconv.Itoa(n) + "}" }, "„", "“")
	}
	return made
}

// placed puts a place for each verb of a format, by its number, between quotes where the verb quotes.
func placed(format string, place func(n int) string, open, shut string) string {
	n := 0
	return verbForm.ReplaceAllStringFunc(format, func(verb string) string {
		n++
		found := verbForm.FindStringSubmatch(verb)
		if found[1] != "" {
			n, _ = strconv.Atoi(found[1]) // digits
		}
		if found[2] == "q" {
			return open + place(n) + shut
		}
		return place(n)
	})
}

// Phrase is a sentence that the program made in English and stored, an error among them, in the language of the context; what is none
// of ours, such as what somebody wrote, stays as it is.
func Phrase(ctx context.Context, text string) string {
	return said(sentences[words.Tag(ctx)], text)
}

// said is a text in another language by the phrases that there are; what is none stays as it is.
func said(known []phrase, text string) string {
	for _, p := range known {
		found := p.english.FindStringSubmatch(text)
		if found == nil {
			continue
		}
		to := p.to
		for i, place := range found[1:] {
			to = strings.ReplaceAll(to, "{"+strconv.Itoa(i+1)+"}", said(known, place))
		}
		return to
	}
	return text
}

package words

import (
	"regexp"
	"slices"
	"strings"
	"sync"

	"github.com/nicksnyder/go-i18n/v2/i18n"
)

// Recognize finds which text a stored English sentence was made of, among those whose ids have a beginning, and the values of its
// places, by their names in small letters. Records hold some sentences of ours in English, where a code would do: so they can be told in another language, and with
// labels in the place of ids.
func Recognize(beginning, sentence string) (id string, values map[string]string, ok bool) {
	for _, p := range patternsOf(beginning) {
		found := p.form.FindStringSubmatch(sentence)
		if found == nil {
			continue
		}
		values = map[string]string{}
		for i, name := range p.form.SubexpNames() {
			if name != "" {
				values[name] = found[i]
			}
		}
		if p.one {
			values["count"] = "1"
		}
		return p.id, values, true
	}
	return "", nil, false
}

// pattern is what sentences that a text makes look like.
type pattern struct {
	id      string
	form    *regexp.Regexp
	one     bool // the singular of a text with plural forms
	letters int  // of the text outside its places
}

var patterns sync.Map // by beginning

// patternsOf are the patterns of the ids with a beginning, those that say most by themselves first.
func patternsOf(beginning string) []pattern {
	if known, ok := patterns.Load(beginning); ok {
		return known.([]pattern)
	}
	var found []pattern
	for id, m := range texts.messages[Languages[0]] {
		if strings.HasPrefix(id, beginning) {
			found = append(found, patternsIn(id, m)...)
		}
	}
	slices.SortFunc(found, func(a, b pattern) int {
		if a.letters != b.letters {
			return b.letters - a.letters
		}
		return strings.Compare(a.id, b.id)
	})
	patterns.Store(beginning, found)
	return found
}

func patternsIn(id string, m *i18n.Message) []pattern {
	found := []pattern{patternOf(id, m.Other)}
	if m.One != "" {
		one := patternOf(id, m.One)
		one.one = true
		found = append(found, one)
	}
	return found
}

var placeForm = regexp.MustCompile(`{{\.(\w+)}}`)

// patternOf makes a pattern of a text. A value that stands in it twice is taken from where it stands first.
func patternOf(id, text string) pattern {
	var form strings.Builder
	seen := map[string]bool{}
	from, letters := 0, 0
	for _, at := range placeForm.FindAllStringSubmatchIndex(text, -1) {
		form.WriteString(regexp.QuoteMeta(text[from:at[0]]))
		letters += at[0] - from
		name := text[at[2]:at[3]]
		if seen[name] {
			form.WriteString(`.*?`)
		} else {
			form.WriteString(`(?P<` + strings.ToLower(name) + `>.*?)`)
		}
		seen[name], from = true, at[1]
	}
	form.WriteString(regexp.QuoteMeta(text[from:]))
	letters += len(text) - from
	return pattern{id: id, form: regexp.MustCompile(`(?s)^` + form.String() + `$`), letters: letters}
}

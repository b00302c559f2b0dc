package review

import (
	"slices"
	"strings"
	"unicode/utf8"
)

// Loose is what was typed into a form and cannot be taken as it is, by the name of the field: a draft holds anything.
type Loose map[string]string

// Limits on Loose, in fields and bytes: what the largest form can send.
const (
	maxLooseFields = 1000
	maxLooseBytes  = 256 << 10
)

// Kept is what is stored of it: nothing where it is empty, so that a draft that holds none is the same however it was written.
func (l Loose) Kept() Loose {
	if len(l) == 0 {
		return nil
	}
	return l
}

func (l Loose) check(p *Problems) {
	size := 0
	for field, text := range l {
		size += len(field) + len(text)
		if !utf8.ValidString(field+text) || strings.ContainsRune(field+text, 0) {
			p.Addf("loose", "contains what is no text")
		}
	}
	if len(l) > maxLooseFields || size > maxLooseBytes {
		p.Addf("loose", "at most %d fields and %d bytes", maxLooseFields, maxLooseBytes)
	}
}

// remaining adds what has to be mended before reviewers see it.
func (l Loose) remaining(p *Problems) {
	fields := make([]string, 0, len(l))
	for field := range l {
		fields = append(fields, field)
	}
	slices.Sort(fields)
	for _, field := range fields {
		p.Addf(field, "holds %q, which cannot be taken as it is: correct it or empty it", l[field])
	}
}

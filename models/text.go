package models

import (
	"slices"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"

	"revidit/review"
	"revidit/review/service"
)

// folded is a text without case and in one spelling of its accents, for searching: the databases' own LIKE and lower()
// differ beyond ASCII.
func folded(text string) string {
	return norm.NFC.String(cases.Fold().String(norm.NFC.String(text)))
}

// begins stands before each text that is joined for searching: no search text matches across two of them, and one that
// is shorter than an entry of the index is looked for together with it, at their beginning.
const begins = "\n\n"

func searchable(texts ...string) string { return begins + folded(strings.Join(texts, begins)) }

// sought is what to look for in searchable texts for what somebody has typed: at least service.SearchAnywhere characters,
// as many as an entry of the index has.
func sought(text string) string {
	text = folded(strings.ReplaceAll(text, "\n", " "))
	if missing := service.SearchAnywhere - utf8.RuneCountInString(text); missing > 0 {
		return begins[len(begins)-missing:] + text
	}
	return text
}

var likeSpecial = strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`)

// like is a LIKE pattern, with ESCAPE '\', for texts that contain one.
func like(text string) string { return "%" + likeSpecial.Replace(text) + "%" }

// storable says whether PostgreSQL can hold a text; what it cannot hold is in neither database.
func storable(text string) bool { return utf8.ValidString(text) && !strings.Contains(text, "\x00") }

// checkFilter refuses texts that cannot be looked for: field name, text, field name, text.
func checkFilter(fields ...string) error {
	var problems review.Problems
	for field := range slices.Chunk(fields, 2) {
		if name, text := field[0], field[1]; !storable(text) {
			problems.Addf(name, "contains characters that are no text")
		}
	}
	return problems.Err()
}

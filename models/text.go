package models

import (
	"strings"
	"unicode/utf8"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"

	"revidit/review"
)

// folded is a text without case and in one spelling of its accents, for searching: the databases' own LIKE and lower()
// differ beyond ASCII.
func folded(text string) string {
	return norm.NFC.String(cases.Fold().String(norm.NFC.String(text)))
}

// searchable joins texts so that no search text matches across two of them.
func searchable(texts ...string) string { return folded(strings.Join(texts, "\n")) }

var likeSpecial = strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`)

// containing is a LIKE pattern, with ESCAPE '\', for texts that contain one.
func containing(text string) string { return "%" + likeSpecial.Replace(folded(text)) + "%" }

// storable says whether PostgreSQL can hold a text; what it cannot hold is in neither database.
func storable(text string) bool { return utf8.ValidString(text) && !strings.Contains(text, "\x00") }

// checkFilter refuses texts that cannot be looked for: field name, text, field name, text.
func checkFilter(fields ...string) error {
	var problems review.Problems
	for i := 0; i < len(fields); i += 2 {
		if !storable(fields[i+1]) {
			problems.Addf(fields[i], "contains characters that are no text")
		}
	}
	return problems.Err()
}

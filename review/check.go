package review

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"revidit/review/diagnosis"
)

// Limits on what one input may hold.
const (
	MaxNote         = 2000 // letters of a remark, reason or note
	maxPhotos       = 24   // photos of one submission
	maxObservations = 80   // observations of one submission
	maxRegionSlack  = 1e-9 // rounding of fractions that a browser computed
)

func checkView(p *Problems, field, view string, tables *diagnosis.Tables) {
	for _, known := range tables.Group.Views {
		if known.ID == view {
			return
		}
	}
	if view == "" {
		p.Addf(field, "choose what the photo shows")
		return
	}
	p.Addf(field, "%q is not a view; choose what the photo shows", view)
}

func checkNumber(p *Problems, field string, x *float64, least, most float64) {
	if x != nil && !(*x >= least && *x <= most) {
		p.Addf(field, "must be from %s to %s", plainNumber(least), plainNumber(most))
	}
}

// plainNumber writes all decimals and no exponent.
func plainNumber(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// CheckText counts letters, not bytes, and refuses control characters that a database or a label cannot hold.
func CheckText(p *Problems, field, text string, least, most int) {
	if !utf8.ValidString(text) || strings.ContainsFunc(text, isControl) {
		p.Addf(field, "contains characters that are no text")
		return
	}
	n := utf8.RuneCountInString(strings.TrimSpace(text))
	if n < least {
		p.Addf(field, "must be filled in")
	}
	if utf8.RuneCountInString(text) > most {
		p.Addf(field, "is longer than %d letters", most)
	}
}

func isControl(r rune) bool {
	return (r < ' ' && r != '\n' && r != '\r' && r != '\t') || r == 0x7f
}

// dateLayouts are those of ISO 8601 that a label needs: day, month, year.
var dateLayouts = []string{"2006-01-02", "2006-01", "2006"}

func checkDate(p *Problems, field, date string) {
	if date == "" {
		return
	}
	for _, layout := range dateLayouts {
		if t, err := time.Parse(layout, date); err == nil && t.Year() >= 1600 {
			return
		}
	}
	p.Addf(field, "must be a day (2026-05-14), a month (2026-05) or a year (2026)")
}

// FieldOf is the path of an element of a list in an input, as in "photos[2]".
func FieldOf(list string, i int) string { return fmt.Sprintf("%s[%d]", list, i) }

// Plural is the word for n things.
func Plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// NonNil is an empty list in place of none, which JSON would write as null.
func NonNil(s []string) []string {
	if s == nil {
		return []string{}
	}
	return s
}

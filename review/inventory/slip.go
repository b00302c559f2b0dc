package inventory

import (
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"revidit/review"
)

// names of families and subfamilies end alike (International Code of Zoological Nomenclature, 4th edition, article 29.2). Those of tribes
// do as well, but so may a genus.
var endings = []struct{ ending, rank string }{{"idae", "family"}, {"inae", "subfamily"}}

// RankOf is the rank that a name tells by its form; empty where it tells none.
func RankOf(name string) string {
	d := review.Determination{ScientificName: name}
	words := d.NameWords()
	switch {
	case words.Genus == "" || !capital(words.Genus):
		return ""
	case words.Infraspecific != "":
		return "subspecies"
	case words.Epithet != "":
		return "species"
	}
	for _, e := range endings {
		if strings.HasSuffix(words.Genus, e.ending) {
			return e.rank
		}
	}
	if words.Author != "" || !strings.Contains(name, " ") {
		return "genus"
	}
	return ""
}

func capital(word string) bool {
	first, _ := utf8.DecodeRuneInString(word)
	return unicode.IsUpper(first)
}

// ReadName takes words of doubt out of a name as it was written (open nomenclature: see review/name.go): the name alone is what is left, the
// qualifier stands with the part of the name that follows it.
func ReadName(written string) (s review.Slip) {
	s.Wording = written
	var name, doubt []string
	doubting := false
	for _, word := range strings.Fields(written) {
		switch strings.ToLower(word) {
		case "cf.", "cf", "aff.", "aff", "nr.", "nr", "prope":
			doubting, doubt = true, append(doubt, word)
			continue
		case "?":
			if s.Qualifier == "" {
				s.Qualifier = "?"
			}
			continue
		case "sp.", "sp", "spec.", "spp.", "indet.", "indet", "det.", "gen.", "fam.":
			continue
		}
		bare := strings.Trim(word, "?")
		if bare != word {
			s.Qualifier = "?"
		}
		if bare == "" {
			continue
		}
		name = append(name, bare)
		if doubting {
			doubt = append(doubt, bare)
		}
	}
	s.Name = strings.TrimRight(strings.Join(name, " "), ",;:")
	if len(doubt) > 0 {
		s.Qualifier = strings.Join(doubt, " ")
	}
	s.Rank = RankOf(s.Name)
	return s
}

var (
	// betweenSlips are the marks between several slips in one cell, and each further word of determining.
	betweenSlips = regexp.MustCompile(`\s*[;|\r\n]+\s*`)
	// determined is the word by which a slip tells what its person has done. The common words of the trade in Latin, English and German.
	determined = regexp.MustCompile(`(?i)(^|[\s,;(])(determinavit|determ\.|determined by|determiner|det\.?|best\.|bestimmt(?: von| durch)?|id\. by|identified by)[\s:]*`)
	// confirmed are words of somebody who has looked at a name and given none.
	confirmed = regexp.MustCompile(`(?i)(^|[\s,;(])(conf\.|confirmavit|confirmed by|rev\.|revidit|vid\.|vidit|teste|best(?:ä|ae)tigt)[\s:]*`)
	people    = regexp.MustCompile(`\s*(?:[;|/&+]|\b(?:and|und|et)\b)\s*`)
	brackets  = strings.NewReplacer("[", "", "]", "")
)

// PeopleOf are the names of several people who stand in one text. A comma may be part of a name and parts none.
func PeopleOf(text string) (names []string) {
	for _, one := range people.Split(text, -1) {
		if one = strings.Trim(one, " ,:()"); one != "" {
			names = append(names, one)
		}
	}
	return names
}

// signed takes the date off the end of what follows "det.": people, and a date as the column has them.
func signed(text string, how Dates) (by []string, d Date, written string) {
	words := strings.Fields(text)
	for i := range words {
		rest := strings.Trim(strings.Join(words[i:], " "), " ,()")
		if i == len(words)-1 || endsName(words[i]) {
			if found := ParseDate(rest, how); found.Fault != review.FaultUnread && found.Fault != review.FaultNoYear {
				return PeopleOf(strings.Join(words[:i], " ")), found, rest
			}
		}
	}
	return PeopleOf(text), Date{}, ""
}

// endsName: a date of several words begins with a figure or with a whole month. A single letter may be an initial: "Kron, I. 1987".
func endsName(word string) bool {
	bare := strings.Trim(word, ".,('")
	return bare != "" && (bare[0] >= '0' && bare[0] <= '9' || len(bare) >= 3 && monthOf(bare) > 0)
}

// slipText is one slip of a cell.
type slipText struct {
	review.IncomingSlip
	date     Date
	dateText string
	confirms bool // it tells of somebody who gave no name
}

// ReadSlips reads whole slips as they are written in a cell: "Carabus auratus L. det. A. B. 1987; det. C. D. 2003".
func ReadSlips(cell string, how Dates) (slips []slipText) {
	for _, one := range betweenSlips.Split(brackets.Replace(cell), -1) {
		for _, text := range eachDet(one) {
			if text = strings.Trim(text, " ,;"); text != "" {
				slips = append(slips, readSlip(text, how))
			}
		}
	}
	return slips
}

// eachDet cuts a text into its slips: before each word that says that a name was looked at, and before each further word of determining.
// Where a slip ends that a name follows, nobody knows but by its year, so that the name goes with what stands behind it.
func eachDet(text string) []string {
	type sign struct {
		at, end  int
		confirms bool
	}
	var signs []sign
	for _, m := range determined.FindAllStringSubmatchIndex(text, -1) {
		signs = append(signs, sign{at: m[3], end: m[1]})
	}
	for _, m := range confirmed.FindAllStringSubmatchIndex(text, -1) {
		signs = append(signs, sign{at: m[3], end: m[1], confirms: true})
	}
	slices.SortFunc(signs, func(a, b sign) int { return a.at - b.at })
	var parts []string
	from := 0
	for i := 1; i < len(signs); i++ {
		cut := signs[i].at
		if stretch := text[min(signs[i-1].end, cut):cut]; !signs[i].confirms {
			if year := lastYearIn.FindStringIndex(stretch); year != nil {
				cut += year[1] - len(stretch)
			}
		}
		parts = append(parts, text[from:cut])
		from = cut
	}
	return append(parts, text[from:])
}

var lastYearIn = regexp.MustCompile(`\b(?:1[6-9]|20)\d\d\b`)

func readSlip(text string, how Dates) (s slipText) {
	at := determined.FindStringIndex(text)
	if other := confirmed.FindStringIndex(text); other != nil && (at == nil || other[0] < at[0]) {
		s.confirms, s.Wording = true, text
		return s
	}
	name, rest := text, ""
	if at != nil {
		name, rest = strings.Trim(text[:at[0]], " ,;("), text[at[1]:]
	}
	if s.Wording = text; name != "" {
		s.Slip = ReadName(name)
	}
	s.By, s.date, s.dateText = signed(rest, how)
	return s
}

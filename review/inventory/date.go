package inventory

import (
	"strconv"
	"strings"
	"time"
	"unicode"

	"revidit/review"
)

// Dates says how dates of a column are read.
type Dates struct {
	Order   review.DateOrder // of figures alone; empty: not told
	Century int              // first of the hundred years in which two digits of a year lie; 0: not told
	Years   bool             // two digits alone are a year, as beside the name of a determiner
}

// Date is one as it was read: a day, a month or a year (ISO 8601), or two of them.
type Date struct {
	From, To string
	// Fault says why there is none; empty with a date.
	Fault review.FaultCode
	// Either: of figures, day and month could change places. DayFirst, MonthFirst: of figures that leave one choice.
	Either, DayFirst, MonthFirst bool
	TwoDigits                    bool // the year is written with two digits
	Against                      bool // it was read against the order of the column, since it leaves no other choice
}

// token is a word or a number of a date with what stands before it.
type token struct {
	gap    string // separators before it
	number int
	digits int // of the number; 0: it is a month
	month  int // of a word or a roman number
}

// part is a point in time as far as it was written.
type part struct {
	year, month, day int
	twoDigits        bool
	numeric          bool // day and month are both figures, day being the first
	swapped          bool // they were written year, month, day: no question of order
}

// ParseDate reads a date as it is written on labels and in lists: 14.v.2026, 14.V.26, 14 May 2026, May 14, 2026, 14/5/2026, 2026-05-14,
// v.2026, 2026, and ranges such as 28.V.-2.VI.2026, 28.-30.v.2026, v.-vi.2026, 2025/26, 2026-05-28/2026-06-02.
func ParseDate(text string, how Dates) Date {
	text = tidy(text)
	if from, to, ok := isoRange(text); ok {
		return made(from, to)
	}
	tokens, ok := cutDate(text)
	if !ok {
		return Date{Fault: review.FaultUnread}
	}
	if how.Years && len(tokens) == 1 && tokens[0].digits == 2 {
		return how.single(part{year: tokens[0].number, twoDigits: true})
	}
	if p, ok := pointOf(tokens); ok {
		return how.single(p)
	}
	return how.ranged(tokens)
}

// tidy makes every dash one, and of several spaces one.
func tidy(text string) string {
	text = strings.NewReplacer("\u2013", "-", "\u2014", "-", "\u2012", "-", "\u2011", "-", "\u2010", "-", "\u2212", "-", "\u00a0", " ", "\u202f", " ", "\u2019", "'").Replace(text)
	return strings.Join(strings.Fields(text), " ")
}

// isoRange reads a date of ISO 8601, or an interval of two; of a time only the day is taken.
func isoRange(text string) (from, to string, ok bool) {
	first, second, two := strings.Cut(text, "/")
	if from, ok = isoDate(first); !ok || !two {
		return from, "", ok
	}
	to, ok = isoDate(second)
	return from, to, ok
}

func isoDate(text string) (string, bool) {
	for _, layout := range []string{time.DateOnly, "2006-01", time.RFC3339, "2006-01-02T15:04:05", "2006-01-02T15:04", "2006-01-02 15:04:05", "2006-01-02 15:04"} {
		if at, err := time.Parse(layout, text); err == nil && plausible(at.Year()) {
			return at.Format(layout)[:min(len(layout), len(time.DateOnly))], true
		}
	}
	return "", false
}

// The oldest insect collections that still exist are of the seventeenth century; common practice, no source.
const (
	firstYear = 1600
	lastYear  = 2100
)

func plausible(year int) bool { return year >= firstYear && year <= lastYear }

// cutDate cuts a text into numbers and months; false where anything else stands in it.
func cutDate(text string) (tokens []token, ok bool) {
	rest := text
	for rest != "" && len(tokens) < 8 {
		gap := rest[:len(rest)-len(strings.TrimLeft(rest, ".,/- '"))]
		rest = rest[len(gap):]
		if rest == "" {
			break
		}
		word := rest[:wordEnd(rest)]
		if word == "" {
			return nil, false
		}
		rest = rest[len(word):]
		t := token{gap: gap}
		if word[0] >= '0' && word[0] <= '9' {
			t.digits = len(word)
			t.number, _ = strconv.Atoi(word)
			if t.digits > 4 || t.digits == 3 {
				return nil, false
			}
		} else if connects(word) && len(tokens) > 0 {
			rest = "- " + strings.TrimLeft(rest, " ")
			continue
		} else if t.month = monthOf(word); t.month == 0 {
			return nil, false
		}
		tokens = append(tokens, t)
	}
	return tokens, rest == "" && len(tokens) > 0
}

// wordEnd is where a run of figures or of letters ends.
func wordEnd(text string) int {
	first := rune(0)
	for i, r := range text {
		switch {
		case i == 0:
			first = r
		case (r >= '0' && r <= '9') != (first >= '0' && first <= '9') || !unicode.IsLetter(r) && (r < '0' || r > '9'):
			return i
		}
		if !unicode.IsLetter(r) && (r < '0' || r > '9') {
			return i
		}
	}
	return len(text)
}

func connects(word string) bool {
	switch strings.ToLower(word) {
	case "to", "bis", "until", "till", "usque":
		return true
	}
	return false
}

// romanMonths as labels write them, and words of three languages by their first letters.
var romanMonths = map[string]int{"i": 1, "ii": 2, "iii": 3, "iv": 4, "v": 5, "vi": 6, "vii": 7, "viii": 8, "ix": 9, "x": 10, "xi": 11, "xii": 12}

// months in English, German and Latin, whole; their beginnings of three letters and more are read as well.
var months = [][]string{1: {"january", "januar", "jänner", "jaenner", "januarius", "ianuarius"}, 2: {"february", "februar", "feber", "februarius"}, 3: {"march", "märz", "maerz", "martius"},
	4: {"april", "aprilis"}, 5: {"may", "mai", "maius", "majus"}, 6: {"june", "juni", "junius", "iunius"}, 7: {"july", "juli", "julius", "iulius"}, 8: {"august", "augustus"},
	9: {"september", "sept"}, 10: {"october", "oktober"}, 11: {"november"}, 12: {"december", "dezember"}}

// monthOf is the month of a word or a roman number; 0 where it is none.
func monthOf(word string) int {
	word = strings.ToLower(word)
	if n := romanMonths[word]; n > 0 {
		return n
	}
	if len(word) < 3 {
		return 0
	}
	found := 0
	for n, names := range months {
		for _, name := range names {
			if strings.HasPrefix(name, word) {
				if found != 0 && found != n {
					return 0
				}
				found = n
			}
		}
	}
	return found
}

// pointOf reads tokens as one point in time; false where they are none. Between its parts stand spaces and marks, but a hyphen only
// alone and in each gap: elsewhere it is that of a range.
func pointOf(tokens []token) (p part, ok bool) {
	hyphens := 0
	for _, t := range tokens[1:] {
		if strings.Contains(t.gap, "-") {
			if hyphens++; t.gap != "-" {
				return p, false
			}
		}
	}
	if hyphens > 0 && (hyphens != len(tokens)-1 || len(tokens) != 3) {
		return p, false
	}
	year := func(t token) bool {
		p.year, p.twoDigits = t.number, t.digits == 2
		return t.digits == 4 && plausible(t.number) || t.digits == 2
	}
	short := func(t token) bool { return t.digits == 1 || t.digits == 2 }
	switch t := tokens; len(t) {
	case 1:
		return p, t[0].digits == 4 && year(t[0]) || t[0].digits == 2 && strings.HasSuffix(t[0].gap, "'") && year(t[0])
	case 2:
		switch {
		case t[0].month > 0 && (t[1].digits == 4 || t[1].digits == 2 && t[1].number > 31): // v.2026, v.87; v.26 may be a day
			p.month = t[0].month
			return p, year(t[1])
		case short(t[0]) && t[1].digits == 4: // 5.2026
			p.month = t[0].number
			return p, year(t[1])
		}
	case 3:
		switch {
		case short(t[0]) && t[1].month > 0 && t[2].digits > 1: // 14.v.2026
			p.day, p.month = t[0].number, t[1].month
			return p, year(t[2])
		case t[0].month > 0 && short(t[1]) && t[2].digits > 1: // May 14, 2026
			p.month, p.day = t[0].month, t[1].number
			return p, year(t[2])
		case t[0].digits == 4 && (t[1].month > 0 || short(t[1])) && short(t[2]): // 2026/5/14
			p.month, p.day, p.swapped = max(t[1].month, t[1].number), t[2].number, true
			return p, year(t[0])
		case short(t[0]) && short(t[1]) && t[2].digits > 1: // 14.5.2026
			p.day, p.month, p.numeric = t[0].number, t[1].number, true
			return p, year(t[2])
		}
	}
	return p, false
}

// partOf reads tokens as the beginning or the end of a range, which may leave out what both have in common.
func partOf(tokens []token) (p part, ok bool) {
	if p, ok = pointOf(tokens); ok {
		return p, true
	}
	t := tokens
	for _, next := range t[1:] {
		if strings.Contains(next.gap, "-") {
			return p, false
		}
	}
	switch {
	case len(t) == 1 && t[0].month > 0:
		p.month = t[0].month
	case len(t) == 1 && (t[0].digits == 1 || t[0].digits == 2):
		p.day = t[0].number
	case len(t) == 2 && (t[0].digits == 1 || t[0].digits == 2) && t[1].month > 0:
		p.day, p.month = t[0].number, t[1].month
	case len(t) == 2 && t[0].month > 0 && (t[1].digits == 1 || t[1].digits == 2):
		p.day, p.month = t[1].number, t[0].month
	case len(t) == 2 && t[0].digits+t[1].digits <= 4 && t[0].digits > 0 && t[1].digits > 0:
		p.day, p.month, p.numeric = t[0].number, t[1].number, true
	default:
		return p, false
	}
	return p, true
}

// single is the date of one point.
func (how Dates) single(p part) Date {
	d, text := how.settle(p)
	if d.Fault == "" {
		d.From = text
	}
	return d
}

// settle works out order and century of a part, and its text.
func (how Dates) settle(p part) (d Date, text string) {
	d.TwoDigits = p.twoDigits
	if p.numeric {
		switch dayMay, monthMay := p.month <= 12, p.day <= 12; {
		case p.day == p.month:
		case dayMay && monthMay:
			d.Either = true
			if how.Order == review.MonthFirst {
				p.day, p.month = p.month, p.day
			}
		case monthMay:
			d.MonthFirst, d.Against = true, how.Order == review.DayFirst
			p.day, p.month = p.month, p.day
		default:
			d.DayFirst, d.Against = true, how.Order == review.MonthFirst
		}
	}
	if d.Either && how.Order == "" {
		d.Fault = review.FaultOrder
	}
	if p.twoDigits {
		if how.Century == 0 {
			d.Fault = review.FaultCentury
			p.year = 2000 // a leap year: the day is looked at all the same
		} else {
			p.year = how.Century + (p.year-how.Century%100+100)%100
		}
	}
	text, ok := p.text()
	if !ok {
		d.Fault = review.FaultUnread
	}
	return d, text
}

// text is a day, month or year; false where there is no such day.
func (p part) text() (string, bool) {
	switch {
	case p.month == 0:
		return strconv.Itoa(p.year), p.day == 0
	case p.month > 12:
		return "", false
	case p.day == 0:
		return time.Date(p.year, time.Month(p.month), 1, 0, 0, 0, 0, time.UTC).Format("2006-01"), true
	}
	at := time.Date(p.year, time.Month(p.month), p.day, 0, 0, 0, 0, time.UTC)
	return at.Format(time.DateOnly), at.Day() == p.day
}

// ranged reads two points around a hyphen or a slash. Where two hyphens give two different ranges, it is none.
func (how Dates) ranged(tokens []token) Date {
	var found []Date
	for at := 1; at < len(tokens); at++ {
		if !strings.ContainsAny(tokens[at].gap, "-/") {
			continue
		}
		if d, ok := how.between(tokens[:at], tokens[at:]); ok {
			found = append(found, d)
		}
	}
	switch {
	case len(found) == 1:
		return found[0]
	}
	if p, ok := partOf(tokens); ok && (p.month > 0 || p.day > 0) && len(tokens) > 1 {
		return Date{Fault: review.FaultNoYear}
	}
	return Date{Fault: review.FaultUnread}
}

func (how Dates) between(before, after []token) (Date, bool) {
	end, ok := partOf(after)
	if !ok {
		return Date{}, false
	}
	begin, ok := partOf(before)
	if !ok {
		return Date{}, false
	}
	if end.year == 0 && begin.year > 0 { // 1987/88: the century is that of the first year
		if len(before) != 1 || begin.twoDigits || after[0].digits != 2 || len(after) != 1 || end.day <= max(begin.year%100, 12) {
			return Date{}, false
		}
		return made(strconv.Itoa(begin.year), strconv.Itoa(begin.year/100*100+end.day)), true
	}
	if end.year == 0 {
		return Date{Fault: review.FaultNoYear}, begin.month > 0 || end.month > 0
	}
	if begin.year == 0 {
		begin.year, begin.twoDigits = end.year, end.twoDigits
	}
	if begin.month == 0 && begin.day > 0 {
		switch {
		case end.day > 0: // 28.-30.v.2026
			begin.month, begin.numeric = end.month, end.numeric
		case end.month > 0: // 5-6.1987
			begin.month, begin.day = begin.day, 0
		default:
			return Date{}, false
		}
	}
	if begin.numeric && end.numeric && begin.month == end.month && before[0].digits > 0 && len(before) == 1 {
		begin.numeric = false // the month is that of the end, whose order is asked
		return how.sameMonth(begin, end)
	}
	return how.join(begin, end)
}

// sameMonth is 28.-30.5.2026: the end says which figure is the month.
func (how Dates) sameMonth(begin, end part) (Date, bool) {
	last, to := how.settle(end)
	if last.Fault != "" || last.MonthFirst || last.Either && how.Order == review.MonthFirst {
		if last.Fault == "" {
			last.Fault = review.FaultUnread
		}
		return last, true
	}
	first, from := how.settle(begin)
	if first.Fault != "" {
		return first, true
	}
	last.From, last.To = from, to
	return last.ordered(), true
}

func (how Dates) join(begin, end part) (Date, bool) {
	first, from := how.settle(begin)
	last, to := how.settle(end)
	d := Date{Either: first.Either || last.Either, DayFirst: first.DayFirst || last.DayFirst, MonthFirst: first.MonthFirst || last.MonthFirst,
		TwoDigits: first.TwoDigits || last.TwoDigits, Against: first.Against || last.Against}
	for _, fault := range []review.FaultCode{first.Fault, last.Fault} {
		if fault != "" {
			d.Fault = fault
			return d, true
		}
	}
	d.From, d.To = from, to
	return d.ordered(), true
}

// ordered refuses a range that ends before it begins; one of a single day is that day.
func (d Date) ordered() Date {
	if d.To == d.From {
		d.To = ""
	}
	if d.To != "" && d.To < d.From {
		d.From, d.To, d.Fault = "", "", review.FaultBackwards
	}
	return d
}

func made(from, to string) Date { return Date{From: from, To: to}.ordered() }

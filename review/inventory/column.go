package inventory

import (
	"regexp"
	"slices"
	"strings"

	"revidit/review"
)

// findHeader is the row of the names of columns: of the first ones that in which most names are known. Where none is known it is the first
// one, if its cells are all words and no row below is so. -1: there is none.
func (t *Table) findHeader() int {
	const looked = 20
	best, most := -1, 0
	for i := range t.Rows[:min(looked, len(t.Rows))] {
		known := map[review.Meaning]bool{}
		for _, c := range t.Rows[i].Cells {
			if means := ByHeading(c.Text); means != "" && c.Kind == CellText {
				known[means] = true
			}
		}
		if len(known) > most {
			best, most = t.Rows[i].Number, len(known)
		}
	}
	if most >= 2 || most == 1 && (t.width == 1 || best == t.Rows[0].Number) {
		return best
	}
	first := &t.Rows[0]
	words := len(first.Cells) == t.width && !slices.ContainsFunc(first.Cells, func(c Cell) bool {
		return c.Kind != CellText || c.Text == "" || strings.ContainsAny(c.Text, "0123456789")
	})
	if words && len(t.Rows) > 1 {
		return first.Number
	}
	return -1
}

// Settle finds out what was not asked for: header, columns and what they hold. It returns how the table is read.
func (t *Table) Settle(wanted *review.InventoryReading, known Families) *review.InventoryReading {
	r := &review.InventoryReading{Encoding: t.Encoding, Sure: t.Sure, Separator: t.Separator, Sheet: t.Sheet, Sheets: t.Sheets}
	var asked []review.InventoryColumn
	if wanted != nil {
		r.Header, asked = wanted.Header, wanted.Columns
	}
	if r.Header == 0 {
		r.Header = t.findHeader()
	}
	names := t.names(r.Header)
	if len(asked) != t.width { // another sheet, or cut in another way
		asked = nil
	}
	held := map[review.Meaning]bool{}
	for i := range t.width {
		c := review.InventoryColumn{Letter: Letter(i)}
		if i < len(names) {
			c.Name = names[i]
		}
		if asked != nil {
			c.Means, c.Order, c.Century, c.East, c.Why = asked[i].Means, asked[i].Order, asked[i].Century, asked[i].East, review.ByCurator
		} else if c.Means = ByHeading(c.Name); c.Means != "" {
			c.Means, c.Why = unheld(held, c.Means), review.ByName
		}
		held[c.Means] = true
		r.Columns = append(r.Columns, c)
	}
	data := t.data(r.Header)
	for i := range r.Columns {
		s := sample(data, i, known)
		c := &r.Columns[i]
		c.Values, c.Examples = s.values, s.examples
		if number, part, _ := c.Means.Slip(); part == "epithet" && c.Why == review.ByName && s.looked > 0 && s.names*10 >= s.looked*9 && !held[review.SlipMeaning(number, "name")] {
			c.Means, c.Why = review.SlipMeaning(number, "name"), review.ByContent // lists call both the word and the whole name of a species so
			held[c.Means] = true
		}
		if c.Means == "" || c.Means == review.MeansKeep && c.Why == review.ByName {
			if c.Means = s.means(held); c.Means != "" {
				c.Why, held[c.Means] = review.ByContent, true
			} else {
				c.Means, c.Why = review.MeansKeep, ""
			}
		}
		if c.Values == 0 && c.Name == "" && asked == nil {
			c.Means, c.Why = review.MeansLeave, ""
		}
		t.questions(c, data, i)
	}
	r.Rows = len(data)
	return r
}

// unheld is the meaning itself, or where another column has it already, that of a further determination, or none.
func unheld(held map[review.Meaning]bool, means review.Meaning) review.Meaning {
	for held[means] {
		number, part, slip := means.Slip()
		if !slip || number == 0 || number == review.MostSlips {
			return ""
		}
		means = review.SlipMeaning(number+1, part)
	}
	return means
}

func (t *Table) names(header int) (names []string) {
	for i := range t.Rows {
		if t.Rows[i].Number == header {
			for _, c := range t.Rows[i].Cells {
				letters := []rune(strings.Join(strings.Fields(c.Text), " "))
				names = append(names, string(letters[:min(len(letters), 100)]))
			}
		}
	}
	return names
}

// data are the rows behind the header.
func (t *Table) data(header int) []Row {
	at := slices.IndexFunc(t.Rows, func(r Row) bool { return r.Number > header })
	if at < 0 {
		return nil
	}
	return t.Rows[at:]
}

// Families tells of a name whether it is a family's, and what it is called today.
type Families func(name string) (today, remark string, known bool)

// sampling is what stands in a column.
type sampling struct {
	values                                                      int
	examples                                                    []string
	looked, dates, points, families, names, slips, sexes, coded int
	distinct                                                    map[string]bool
}

var (
	binomial = regexp.MustCompile(`^\p{Lu}\p{Ll}+(?: \(\p{Lu}\p{Ll}+\))? (?:cf\. |aff\. )?\p{Ll}{3,}\b`)
	coded    = regexp.MustCompile(`^[\pL\-_./ ]{0,12}\d[\pL\d\-_./]{0,15}$`)
)

// sample looks at cells from all of a column.
func sample(rows []Row, column int, known Families) sampling {
	const looked, shown = 400, 3
	s := sampling{distinct: map[string]bool{}}
	step := max(len(rows)/looked, 1)
	for i := range rows {
		c := rows[i].cell(column)
		if c.Text == "" {
			continue
		}
		if s.values++; len(s.examples) < shown && !slices.Contains(s.examples, short(c.Text)) {
			s.examples = append(s.examples, short(c.Text))
		}
		if i%step == 0 || s.looked < shown {
			s.look(c, known)
		}
	}
	return s
}

func short(text string) string {
	const most = 40
	if letters := []rune(text); len(letters) > most {
		return string(letters[:most]) + "…"
	}
	return text
}

func (s *sampling) look(c Cell, known Families) {
	s.looked++
	s.distinct[c.Text] = true
	date := ParseDate(c.Text, Dates{})
	switch _, point := ParsePoint(c.Text, ""); {
	case c.Kind == CellDay, len(c.Text) > 4 && c.Kind == CellText && date.Fault != review.FaultUnread && date.Fault != review.FaultNoYear:
		s.dates++
	case point && strings.ContainsAny(c.Text, "°.,'NSEWO"):
		s.points++
	case determined.MatchString(c.Text) && c.Kind == CellText:
		s.slips++
	case sexOf(c.Text) != "":
		s.sexes++
	case isFamily(c.Text, known):
		s.families++
	case binomial.MatchString(c.Text):
		s.names++
	case coded.MatchString(c.Text):
		s.coded++
	}
}

func isFamily(text string, known Families) bool {
	if strings.ContainsRune(text, ' ') {
		return false
	}
	if known != nil {
		if _, _, ok := known(text); ok {
			return true
		}
	}
	return RankOf(text) == "family"
}

// means is what a column holds by its content: what at least nine of ten of its cells are, where no other column holds it.
func (s *sampling) means(held map[review.Meaning]bool) review.Meaning {
	const fewest = 3
	if s.looked < fewest {
		return ""
	}
	for _, c := range []struct {
		count int
		means review.Meaning
	}{{s.slips, review.MeansSlips}, {s.points, review.MeansPoint}, {s.families, "slip.1.family"}, {s.names, "slip.1.name"}, {s.dates, review.MeansCollected}, {s.sexes, "label.sex"}} {
		place := c.means.IsPlace() && (held["withheld.latitude"] || held[review.MeansPoint])
		if c.count*10 >= s.looked*9 && !held[c.means] && !place {
			return c.means
		}
	}
	if s.coded*10 >= s.looked*9 && len(s.distinct) == s.looked && !held["label.catalogue_number"] {
		return "label.catalogue_number"
	}
	return ""
}

// questions counts what a curator has to be asked of a column.
func (t *Table) questions(c *review.InventoryColumn, rows []Row, column int) {
	if !c.Means.IsDate() && !c.Means.IsPlace() {
		return
	}
	var d review.ColumnsDates
	for i := range rows {
		cell := rows[i].cell(column)
		switch {
		case cell.Text == "":
		case c.Means.IsPlace():
			if hasLetterO(cell.Text) {
				c.LettersO++
			}
		case cell.Kind == CellDay:
			d.Native++
		default:
			for _, date := range datesIn(c.Means, cell.Text) {
				count(&d, date)
			}
		}
	}
	if d != (review.ColumnsDates{}) {
		c.Dates = &d
	}
}

// datesIn are those of a cell that is read as a date, as slips, or as a person with a date behind.
func datesIn(means review.Meaning, text string) (dates []Date) {
	_, part, slip := means.Slip()
	how := Dates{Years: slip || means == review.MeansSlips}
	switch {
	case means == review.MeansSlips:
		for _, s := range ReadSlips(text, how) {
			dates = append(dates, s.date)
		}
	case means == review.MeansYear:
		dates = append(dates, Date{TwoDigits: len(strings.Trim(text, "' ")) == 2})
	case part == "determiner":
		_, date, _ := signed(text, how)
		dates = append(dates, date)
	default:
		dates = append(dates, ParseDate(text, how))
	}
	return dates
}

func count(d *review.ColumnsDates, date Date) {
	for _, c := range []struct {
		is bool
		in *int
	}{{date.Either, &d.Either}, {date.DayFirst, &d.DayFirst}, {date.MonthFirst, &d.MonthFirst}, {date.TwoDigits, &d.TwoDigits}} {
		if c.is {
			*c.in++
		}
	}
}

package pages

import (
	"context"
	"net/url"
	"strconv"
	"strings"

	"github.com/a-h/templ"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/words"
)

// InventoryData is what the page of the table of an old collection shows.
type InventoryData struct {
	service.IntakeView
	Form Form
	All  bool // rows of which nothing is told too
}

func inventoryURL(id, below string) templ.SafeURL {
	return templ.SafeURL("/inventory/" + url.PathEscape(id) + below)
}

// ReadingValues are the values of the forms that say how a table is read.
func ReadingValues(r *review.InventoryReading) map[string][]string {
	values := map[string][]string{}
	if r == nil {
		return values
	}
	set := func(field, value string) { values[field] = []string{value} }
	set("encoding", r.Encoding)
	set("separator", r.Separator)
	set("sheet", r.Sheet)
	if r.Header > 0 {
		set("header", itoa(r.Header))
	}
	for i := range r.Columns {
		c := &r.Columns[i]
		set(columnField(i, "means"), string(c.Means))
		set(columnField(i, "order"), string(c.Order))
		set(columnField(i, "east"), c.East)
		if c.Century > 0 {
			set(columnField(i, "century"), itoa(c.Century))
		}
	}
	return values
}

func columnField(i int, name string) string { return "columns." + itoa(i) + "." + name }

// Columns gives a form that came back what it does not bring, and puts the names of columns beside what is wrong with them.
func (f Form) Columns(r *review.InventoryReading) Form {
	if r == nil {
		return f
	}
	for field, values := range ReadingValues(r) {
		if f.Values[field] == nil {
			f.Values[field] = values
		}
	}
	for i := range f.Problems {
		parts := strings.Split(f.Problems[i].Field, ".")
		if len(parts) != 3 || parts[0] != "columns" {
			continue
		}
		if n, err := strconv.Atoi(parts[1]); err == nil && n < len(r.Columns) {
			f.Problems[i].Label = columnTitle(&r.Columns[n])
		}
	}
	return f
}

func columnTitle(c *review.InventoryColumn) string {
	if c.Name == "" {
		return c.Letter
	}
	return typed(c.Name)
}

// meansWords say what a column holds.
func meansWords(ctx context.Context, m review.Meaning) string {
	if number, part, ok := m.Slip(); ok {
		if number == 0 {
			return words.T(ctx, "inventory.earlier-part", "Part", words.T(ctx, "inventory.part-"+part))
		}
		return words.T(ctx, "inventory.part-of", "Number", number, "Part", words.T(ctx, "inventory.part-"+part))
	}
	if f, ok := m.Field(); ok {
		return askOf(ctx, f)
	}
	return words.T(ctx, "inventory.means-"+string(m))
}

// meansGroup is a heading of the list of what a column can hold.
type meansGroup struct {
	Title   string
	Choices []Choice
}

// meansGroups offer parts of determinations up to one more than the table has.
func meansGroups(ctx context.Context, r *review.InventoryReading) []meansGroup {
	most := 1
	for i := range r.Columns {
		if number, _, ok := r.Columns[i].Means.Slip(); ok {
			most = max(most, number)
		}
	}
	choice := func(m review.Meaning) Choice { return Choice{Value: string(m), Label: meansWords(ctx, m)} }
	groups := []meansGroup{{Title: words.T(ctx, "inventory.group-none")}, {Title: words.T(ctx, "inventory.group-label")}}
	for _, m := range review.Meanings() {
		at := 1
		if m == review.MeansKeep || m == review.MeansLeave || m == review.MeansSource {
			at = 0
		}
		groups[at].Choices = append(groups[at].Choices, choice(m))
	}
	for number := 1; number <= min(most+1, review.MostSlips); number++ {
		g := meansGroup{Title: words.T(ctx, "inventory.group-determination", "Number", number)}
		for _, part := range review.SlipParts {
			g.Choices = append(g.Choices, choice(review.SlipMeaning(number, part)))
		}
		groups = append(groups, g)
	}
	earlier := meansGroup{Title: words.T(ctx, "inventory.group-earlier")}
	for _, part := range review.SlipParts {
		earlier.Choices = append(earlier.Choices, choice(review.SlipMeaning(0, part)))
	}
	return append(groups, earlier)
}

// asked is what is still to be answered of a column.
func openQuestions(c *review.InventoryColumn) (open int) {
	if asksOrder(c) && c.Order == "" {
		open++
	}
	if asksCentury(c) && c.Century == 0 {
		open++
	}
	if c.LettersO > 0 && c.East == "" {
		open++
	}
	return open
}

func asksOrder(c *review.InventoryColumn) bool   { return c.Dates != nil && c.Dates.Either > 0 }
func asksCentury(c *review.InventoryColumn) bool { return c.Dates != nil && c.Dates.TwoDigits > 0 }

func allOpenQuestions(r *review.InventoryReading) (open int) {
	for i := range r.Columns {
		open += openQuestions(&r.Columns[i])
	}
	return open
}

// orderHint tells what the column itself says of the order of its dates.
func orderHint(ctx context.Context, d *review.ColumnsDates) string {
	return words.N(ctx, "inventory.order-hint", d.Either, "DayFirst", words.Number(ctx, float64(d.DayFirst)), "MonthFirst", words.Number(ctx, float64(d.MonthFirst)))
}

func orderChoices(ctx context.Context) []Choice {
	return []Choice{{"", words.T(ctx, "inventory.not-told"), ""}, {"day", words.T(ctx, "inventory.day-first"), ""}, {"month", words.T(ctx, "inventory.month-first"), ""}}
}

func eastChoices(ctx context.Context) []Choice {
	return []Choice{{"", words.T(ctx, "inventory.not-told"), ""}, {"east", words.T(ctx, "inventory.o-east"), ""}, {"west", words.T(ctx, "inventory.o-west"), ""}}
}

func encodingChoices(ctx context.Context) (choices []Choice) {
	for _, e := range review.InventoryEncodings {
		choices = append(choices, Choice{Value: e, Label: words.T(ctx, "inventory.encoding-"+e)})
	}
	return choices
}

func separatorChoices(ctx context.Context) []Choice {
	return []Choice{{",", words.T(ctx, "inventory.comma"), ""}, {";", words.T(ctx, "inventory.semicolon"), ""}, {"\t", words.T(ctx, "inventory.tab"), ""}, {"|", words.T(ctx, "inventory.bar"), ""}}
}

func sheetChoices(r *review.InventoryReading) (choices []Choice) {
	for _, s := range r.Sheets {
		choices = append(choices, Choice{Value: s, Label: typed(s)})
	}
	return choices
}

// readWords tell how a file was read.
func readWords(ctx context.Context, r *review.InventoryReading) string {
	header := words.T(ctx, "inventory.no-header")
	if r.Header > 0 {
		header = words.T(ctx, "inventory.header-in", "Row", words.Number(ctx, float64(r.Header)))
	}
	if r.Sheet != "" {
		return words.T(ctx, "inventory.read-sheet", "Sheet", typed(r.Sheet), "Header", header)
	}
	separator := map[string]string{",": words.T(ctx, "inventory.comma"), ";": words.T(ctx, "inventory.semicolon"), "\t": words.T(ctx, "inventory.tab"), "|": words.T(ctx, "inventory.bar")}[r.Separator]
	return words.T(ctx, "inventory.read-csv", "Encoding", words.T(ctx, "inventory.encoding-"+r.Encoding), "Separator", separator, "Header", header)
}

func whyWords(ctx context.Context, w review.ColumnWhy) string {
	if w == "" {
		return words.T(ctx, "inventory.why-none")
	}
	return words.T(ctx, "inventory.why-"+string(w))
}

func rowsWords(rows []int, times int) string {
	var b strings.Builder
	for i, r := range rows {
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString(itoa(r))
	}
	if times > len(rows) {
		b.WriteString(" …")
	}
	return b.String()
}

package pages

import (
	"context"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"revidit/review"
	"revidit/review/label"
	"revidit/review/label/sheet"
	"revidit/review/service"
	"revidit/web/words"
)

// LabelsData is a selection of specimens and what would be printed of it.
type LabelsData struct {
	Form   Form
	Query  url.Values // of the address
	Set    service.LabelSet
	Plan   *service.LabelPlan // nil: nothing is chosen
	More   bool               // the list has more specimens than a sheet takes
	Sheets []review.Sheet     // printed last
	Names  map[string]string
}

// LabelRow is a label of a plan, or those of several specimens that say the same and were printed alike.
type LabelRow struct {
	service.PlannedLabel
	Of []service.PlannedLabel
}

// Value is the row as the form sends it back: its labels, each with how often it was printed by now.
func (r LabelRow) Value() string {
	var all []string
	for _, l := range r.Of {
		all = append(all, fmt.Sprintf("%s@%d", l.PinLabel, l.Nth-1))
	}
	return strings.Join(all, " ")
}

// rows gathers locality labels of a series into one row.
func (d LabelsData) rows() []LabelRow {
	var rows []LabelRow
	for _, l := range d.Plan.Labels {
		at := -1
		if l.Kind == review.PinLocality {
			at = slices.IndexFunc(rows, func(r LabelRow) bool { return r.says(l) })
		}
		if at < 0 {
			rows = append(rows, LabelRow{PlannedLabel: l, Of: []service.PlannedLabel{l}})
			continue
		}
		rows[at].Of = append(rows[at].Of, l)
	}
	return rows
}

func (r LabelRow) says(l service.PlannedLabel) bool {
	same := slices.EqualFunc(r.Label.Lines, l.Label.Lines, func(a, b label.Line) bool { return slices.Equal(a, b) })
	if !same || (r.Last == nil) != (l.Last == nil) {
		return false
	}
	return r.Last == nil || r.Last.Sheet == l.Last.Sheet && r.Changed == l.Changed
}

// ticked: what was never printed is, and what was, only when somebody ticks it.
func (d LabelsData) ticked(i int, r LabelRow) bool {
	if d.Form.Message != "" {
		return d.Form.Has("print", itoa(i)) && d.Form.Get("row."+itoa(i)) == r.Value()
	}
	return r.Last == nil
}

func (d LabelsData) copies(i int, r LabelRow) string {
	if sent := d.Form.Get("copies." + itoa(i)); sent != "" && d.Form.Get("row."+itoa(i)) == r.Value() {
		return sent
	}
	return itoa(len(r.Of))
}

// selection are the fields of the address that say of which specimens.
func (d LabelsData) selection() []Choice {
	var fields []Choice
	for _, name := range sortedKeys(d.Query) {
		if name != "set" && name != "size" && name != "paper" {
			for _, value := range d.Query[name] {
				fields = append(fields, Choice{Value: value, Label: name})
			}
		}
	}
	return fields
}

// LabelSize is a size of labels as people write it.
func LabelSize(ctx context.Context, id string) string {
	s, ok := label.SizeOf(id)
	if !ok {
		return id
	}
	return words.T(ctx, "labels.size-is", "Width", words.Number(ctx, s.Width), "Height", words.Number(ctx, s.Height))
}

func sizeChoices(ctx context.Context) []Choice {
	var choices []Choice
	for _, s := range label.Sizes {
		choices = append(choices, Choice{Value: s.ID, Label: LabelSize(ctx, s.ID)})
	}
	return choices
}

func paperChoices(ctx context.Context) []Choice {
	var choices []Choice
	for _, p := range label.Papers {
		choices = append(choices, Choice{Value: p.ID, Label: words.T(ctx, "labels.paper-"+p.ID)})
	}
	return choices
}

func setChoices(ctx context.Context) []Choice {
	var choices []Choice
	for _, s := range service.LabelSets {
		choices = append(choices, Choice{Value: string(s), Label: words.T(ctx, "labels.set-"+string(s))})
	}
	return choices
}

// chosen is the form of what is printed, as the address has it.
func (d LabelsData) chosen() Form {
	return NewForm(map[string][]string{"set": {string(d.Set)}, "size": {d.Query.Get("size")}, "paper": {d.Query.Get("paper")}})
}

// ShortenedWords say what was shortened.
func ShortenedWords(ctx context.Context, s label.Shortening) string {
	said := words.T(ctx, "labels.shortened", "Field", words.T(ctx, "labels.field-"+string(s.Field)), "How", words.T(ctx, "labels.how-"+string(s.How)))
	switch {
	case s.Full != "" && s.Short != "":
		said += words.T(ctx, "labels.instead", "Full", typed(s.Full), "Short", typed(s.Short))
	case s.Full != "":
		said += words.T(ctx, "labels.quoted", "Full", typed(s.Full))
	}
	return said
}

// labelText is a label as it is read out.
func labelText(l label.Typeset) string {
	var lines []string
	for _, line := range l.Lines {
		lines = append(lines, line.String())
	}
	return strings.Join(lines, "; ")
}

// mm is a length in the units of a drawing.
func mm(x float64) string { return fmt.Sprintf("%.3f", x) }

// lineY is where a line of a label stands, in millimetres from its upper edge.
func lineY(size label.Size, l label.Typeset, i int) string {
	leading := label.Leading(l.Point)
	return mm((size.Height-float64(len(l.Lines))*leading)/2 + (float64(i)+label.Baseline)*leading)
}

func printedSheetURL(id, below string) string { return "/labels/" + url.PathEscape(id) + below }

// labelsURL is the page of labels of a list with the filters of an address.
func labelsURL(list, query string) string {
	values, err := url.ParseQuery(query)
	if err != nil {
		values = url.Values{}
	}
	values.Del("cursor")
	values.Set("list", list)
	return "/labels?" + values.Encode()
}

// printedWords say of labels of a specimen how often and which were printed.
func printedWords(ctx context.Context, l review.PrintedLabel) string {
	return words.N(ctx, "labels.printed-kind", l.Copies, "Kind", words.T(ctx, "labels.kind-"+string(l.Kind)), "Nth", itoa(l.Nth))
}

// numberOrNone is a catalogue number, or that there is none.
func numberOrNone(ctx context.Context, number string) string {
	if number == "" {
		return words.T(ctx, "common.without-number")
	}
	return typed(number)
}

// SheetWords stand above the labels of each page of a sheet.
func SheetWords(ctx context.Context, v service.SheetView) sheet.Words {
	return sheet.Words{Title: words.T(ctx, "labels.on-paper", "Pieces", words.Number(ctx, float64(v.Pieces)), "Size", LabelSize(ctx, v.Size), "Name", v.Names[v.By], "Day", words.Date(ctx, v.At)),
		Check: words.T(ctx, "labels.check-line"), Paper: words.T(ctx, "labels.which-paper")}
}

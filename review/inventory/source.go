package inventory

import (
	"cmp"
	"strings"

	"revidit/review"
)

// Source tells of the specimens of a table, in its order.
type Source struct {
	table    *Table
	reading  *review.InventoryReading
	families Families
	file     string // as faults and what is kept name it
	today    string // day (ISO 8601) behind which no date can be
	fields   []review.LabelField
	zeros    int // figures that catalogue numbers with zeros at their beginning have; 0: there are none
	numbers  int // column of catalogue numbers; -1: there is none
	summary  review.IntakeSummary
}

// NewSource reads a table in the way that reading says, as Settle made it.
func NewSource(t *Table, reading *review.InventoryReading, file string, families Families, today string) *Source {
	s := &Source{table: t, reading: reading, families: families, file: cmp.Or(t.Sheet, file), today: today, fields: make([]review.LabelField, len(reading.Columns)), numbers: -1}
	for i, c := range reading.Columns {
		if f, ok := c.Means.Field(); ok {
			s.fields[i] = f
		}
		if c.Means == "label.catalogue_number" {
			s.numbers = i
		}
	}
	s.zeros = s.widthOfZeros()
	return s
}

// Summary implements service.IntakeSource.
func (s *Source) Summary() review.IntakeSummary { return s.summary }

func (s *Source) title(column int) string {
	if column < 0 || column >= len(s.reading.Columns) {
		return Letter(max(column, 0))
	}
	c := &s.reading.Columns[column]
	if c.Name == "" {
		return c.Letter
	}
	return c.Name
}

func (s *Source) datesOf(column int) Dates {
	c := &s.reading.Columns[column]
	_, _, slip := c.Means.Slip()
	return Dates{Order: c.Order, Century: c.Century, Years: slip || c.Means == review.MeansSlips}
}

// columnOf is the first column of a meaning, or another one where there is none.
func (s *Source) columnOf(means review.Meaning, other int) int {
	for i := range s.reading.Columns {
		if s.reading.Columns[i].Means == means {
			return i
		}
	}
	return min(max(other, 0), len(s.reading.Columns)-1)
}

// widthOfZeros is how many figures numbers have that begin with a zero, where all of these have as many.
func (s *Source) widthOfZeros() int {
	width := 0
	if s.numbers < 0 {
		return 0
	}
	for _, row := range s.table.data(s.reading.Header) {
		text := row.cell(s.numbers).Text
		if !figuresOnly(text) || text[0] != '0' || len(text) == 1 {
			continue
		}
		if width != 0 && width != len(text) {
			return 0
		}
		width = len(text)
	}
	return width
}

// Each implements service.IntakeSource. Rows of one catalogue number are one specimen where they differ in determinations alone; else the
// later ones are refused, since nobody knows which of them is right.
func (s *Source) Each(visit func(*review.Incoming) error) error {
	rows := s.table.data(s.reading.Header)
	same := s.sameNumbers(rows)
	taken := make([]bool, len(rows))
	for i := range rows {
		if taken[i] {
			continue
		}
		in := s.specimen(&rows[i])
		if number := rows[i].cell(max(s.numbers, 0)).Text; s.numbers >= 0 && number != "" && rows[i].Fault == "" {
			for _, j := range same[number] {
				if j > i && rows[j].Fault == "" && s.joins(&rows[i], &rows[j]) {
					taken[j] = true
					s.join(in, &rows[j])
				}
			}
			if first := same[number]; len(first) > 0 && first[0] < i {
				in.column, in.row = s.numbers, rows[i].Number
				in.tell(review.FaultTwice, number, "")
			}
		}
		if err := visit(s.finish(in)); err != nil {
			return err
		}
	}
	return nil
}

// sameNumbers are the rows of each number that stands in several.
func (s *Source) sameNumbers(rows []Row) map[string][]int {
	all := map[string][]int{}
	if s.numbers < 0 {
		return all
	}
	for i := range rows {
		if number := rows[i].cell(s.numbers).Text; number != "" && rows[i].Fault == "" {
			all[number] = append(all[number], i)
		}
	}
	for number, at := range all {
		if len(at) < 2 {
			delete(all, number)
		}
	}
	return all
}

// joins says whether a later row tells of the same specimen: it differs in determinations, and elsewhere in what it leaves out.
func (s *Source) joins(first, later *Row) bool {
	further := false
	for i := range s.reading.Columns {
		a, b := first.cell(i), later.cell(i)
		means := s.reading.Columns[i].Means
		_, _, slip := means.Slip()
		switch {
		case a.Text == b.Text || b.Text == "" || means == review.MeansKeep || means == review.MeansLeave:
		case slip || means == review.MeansSlips:
			further = true
		default:
			return false
		}
	}
	return further
}

// specimen reads a row.
func (s *Source) specimen(row *Row) *specimen {
	in := &specimen{Incoming: &review.Incoming{Row: row.Number}, source: s, parts: map[int]*slipParts{}, own: -1, row: row.Number}
	if row.Fault != "" {
		in.Fault(review.IntakeFault{Code: row.Fault, File: s.file, Row: row.Number})
		return in
	}
	for i := range s.reading.Columns {
		in.column = i
		in.cell(row.cell(i), s.reading.Columns[i].Means)
	}
	in.endRow()
	in.dateOfParts()
	in.twoCellPoint()
	if in.Label.CatalogueNumber == "" {
		in.column = max(s.numbers, 0)
		in.Fault(review.IntakeFault{Code: review.FaultNoNumber, File: s.file, Row: row.Number})
	}
	return in
}

// join takes determinations and what is kept of a further row of the same specimen.
func (s *Source) join(in *specimen, row *Row) {
	in.row = row.Number
	for i := range s.reading.Columns {
		in.column = i
		means := s.reading.Columns[i].Means
		_, _, slip := means.Slip()
		if slip || means == review.MeansSlips || means == review.MeansKeep {
			in.cell(row.cell(i), means)
		}
	}
	in.endRow()
	in.Joined = append(in.Joined, row.Number)
	in.column = s.numbers
	in.tell(review.FaultJoined, in.Label.CatalogueNumber, "")
}

// finish sees to it that what comes in fits the fields that it comes into.
func (s *Source) finish(in *specimen) *review.Incoming {
	in.accept()
	in.Fit(s.file, func(path string) string {
		for i := range s.reading.Columns {
			if string(s.reading.Columns[i].Means) == path {
				return s.title(i)
			}
		}
		switch {
		case strings.HasPrefix(path, "label.collected"):
			return s.title(s.columnOf(review.MeansCollected, 0))
		case strings.HasPrefix(path, "withheld.l"):
			return s.title(s.columnOf(review.MeansPoint, 0))
		}
		return path
	})
	return in.Incoming
}

package inventory

import (
	"bytes"
	"errors"
	"fmt"
	"slices"

	"revidit/review"
)

// Limits bound what the file of a stranger may hold.
type Limits struct {
	File     int64 // bytes
	Unpacked int64 // bytes of each file of a workbook that is read
	Rows     int   // with data
	Letters  int   // bytes of all cells together
}

// DefaultLimits are what a program with little memory can hold.
var DefaultLimits = Limits{File: 32 << 20, Unpacked: 96 << 20, Rows: 100_000, Letters: 64 << 20}

// CellKind is what a spreadsheet takes a cell for.
type CellKind uint8

// Kinds of cells. Those of CSV are texts.
const (
	CellText   CellKind = iota
	CellNumber          // its text is the number, with a point and without a thousands separator
	CellDay             // its text is the day (ISO 8601), with the time behind it where it has one
	CellBroken          // an error of the spreadsheet
)

// Cell is one of them.
type Cell struct {
	Text string
	Kind CellKind
	// Uncounted: a formula of which the file holds no value. ShortYear: a day that is shown with two digits of its year.
	Uncounted, ShortYear bool
}

// Row is one of them, by its number as spreadsheets show it.
type Row struct {
	Number int
	Cells  []Cell
	Fault  review.FaultCode // why it could not be read
}

func (r *Row) empty() bool {
	return r.Fault == "" && !slices.ContainsFunc(r.Cells, func(c Cell) bool { return c.Text != "" || c.Uncounted })
}

// cell is the one of a column, or an empty one.
func (r *Row) cell(column int) Cell {
	if column >= len(r.Cells) {
		return Cell{}
	}
	return r.Cells[column]
}

// Table is what a file holds, and how it was read. Rows without anything are not in it.
type Table struct {
	Rows      []Row
	Encoding  string
	Sure      bool // of the encoding
	Separator string
	Sheet     string
	Sheets    []string

	width   int // of the widest row
	letters int
	shift   int // rows before the first one that was read
}

// Read reads a file as far as wanted says how; it finds out the rest. Its errors say what is wrong with the whole.
func Read(data []byte, wanted *review.InventoryReading, limits Limits) (*Table, error) {
	if wanted == nil {
		wanted = &review.InventoryReading{}
	}
	t := &Table{}
	var err error
	switch {
	case int64(len(data)) > limits.File:
		return nil, fmt.Errorf("it is larger than %d MiB", limits.File>>20)
	case bytes.HasPrefix(data, []byte("PK\x03\x04")):
		err = t.readWorkbook(data, wanted.Sheet, limits)
	case bytes.HasPrefix(data, []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")): // the beginning of a compound file, which old workbooks are
		return nil, errors.New("it is a workbook of the old kind (.xls); save it as .xlsx or as CSV and send that")
	default:
		var text string
		if text, t.Encoding, t.Sure, err = decode(data, wanted.Encoding); err == nil {
			err = t.readCSV(text, wanted.Separator, limits)
		}
	}
	if err != nil {
		return nil, err
	}
	if len(t.Rows) == 0 {
		return nil, errors.New("it holds no row")
	}
	return t, nil
}

// add takes a row in, unless it is empty.
func (t *Table) add(r Row, limits Limits) error {
	for len(r.Cells) > 0 && r.Cells[len(r.Cells)-1] == (Cell{}) {
		r.Cells = r.Cells[:len(r.Cells)-1]
	}
	if r.empty() {
		return nil
	}
	if len(r.Cells) > review.MostColumns {
		return fmt.Errorf("row %d has more than %d cells", r.Number, review.MostColumns)
	}
	for _, c := range r.Cells {
		t.letters += len(c.Text)
	}
	if t.width = max(t.width, len(r.Cells)); t.letters > limits.Letters {
		return errors.New("it holds more text than is taken at once")
	}
	if t.Rows = append(t.Rows, r); len(t.Rows) > limits.Rows {
		return fmt.Errorf("it has more than %d rows", limits.Rows)
	}
	return nil
}

// Letter is how spreadsheets call a column, the first one being 0.
func Letter(column int) string {
	name := ""
	for n := column + 1; n > 0; n = (n - 1) / 26 {
		name = string(rune('A'+(n-1)%26)) + name
	}
	return name
}

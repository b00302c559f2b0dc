package inventory

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"revidit/review"
)

// sheetReader reads the rows of a sheet one after the other.
type sheetReader struct {
	book  *workbook
	table *Table
	row   Row

	kind, text string // of the cell that is being read: its type, its value
	style      int
	column     int
	formula    bool
	valued     bool // it has a value, if perhaps an empty one
}

func (w *workbook) readSheet(t *Table, place string) error {
	d, file, err := w.open(place)
	if err != nil {
		return err
	}
	defer file.Close()
	r := sheetReader{book: w, table: t}
	for {
		token, err := d.RawToken() // names need not be looked up, and a sheet is long
		if err == io.EOF {
			return nil
		}
		if err == nil {
			err = r.take(d, token)
		}
		if err != nil {
			return fmt.Errorf("row %d of the sheet cannot be read: %w", r.row.Number, err)
		}
	}
}

func (r *sheetReader) take(d *xml.Decoder, token xml.Token) error {
	switch e := token.(type) {
	case xml.StartElement:
		return r.begin(d, &e)
	case xml.EndElement:
		switch e.Name.Local {
		case "c":
			return r.endCell()
		case "row":
			row := r.row
			r.row.Cells = nil
			return r.table.add(row, r.book.limits)
		}
	}
	return nil
}

func (r *sheetReader) begin(d *xml.Decoder, e *xml.StartElement) (err error) {
	switch e.Name.Local {
	case "row":
		number := r.row.Number + 1
		if at := attribute(e, "r"); at != "" {
			if number, err = strconv.Atoi(at); err != nil || number <= r.row.Number || number > 1<<24 {
				return fmt.Errorf("%q is no number of a row behind the one before", at)
			}
		}
		r.row, r.column = Row{Number: number}, -1
	case "c":
		r.kind, r.text, r.style, r.formula, r.valued = attribute(e, "t"), "", 0, false, false
		r.column++
		if at := attribute(e, "r"); at != "" {
			if r.column, err = columnOf(at); err != nil {
				return err
			}
		}
		if style := attribute(e, "s"); style != "" {
			if r.style, err = strconv.Atoi(style); err != nil {
				return fmt.Errorf("%q is no number of a style", style)
			}
		}
	case "v":
		r.valued = true
		r.text, err = rawText(d)
	case "is":
		r.kind = "inlineStr"
		r.text, err = rawRich(d)
	case "f":
		r.formula = true
	}
	return err
}

// columnOf is the column of a cell's name, such as B2.
func columnOf(name string) (int, error) {
	n := 0
	for i, c := range name {
		if c >= 'A' && c <= 'Z' && i < 3 {
			n = n*26 + int(c-'A') + 1
			continue
		}
		break
	}
	if n == 0 || n > 1<<14 {
		return 0, fmt.Errorf("%q is no name of a cell", name)
	}
	return n - 1, nil
}

// rawText is the text of an element that has begun and holds nothing else.
func rawText(d *xml.Decoder) (string, error) {
	text := ""
	for {
		token, err := d.RawToken()
		if err != nil {
			return "", err
		}
		switch e := token.(type) {
		case xml.CharData:
			text += string(e)
		case xml.EndElement:
			return text, nil
		case xml.StartElement:
			return "", fmt.Errorf("<%s> stands in a value", e.Name.Local)
		}
	}
}

// rawRich is the text of <is>, which is that of its <t>.
func rawRich(d *xml.Decoder) (string, error) {
	var b strings.Builder
	text, spoken := false, 0
	for {
		token, err := d.RawToken()
		if err != nil {
			return "", err
		}
		switch e := token.(type) {
		case xml.StartElement:
			if text = e.Name.Local == "t" && spoken == 0; e.Name.Local == "rPh" {
				spoken++
			}
		case xml.EndElement:
			switch e.Name.Local {
			case "is":
				return b.String(), nil
			case "rPh":
				spoken--
			}
			text = false
		case xml.CharData:
			if text {
				b.Write(e)
			}
		}
	}
}

func (r *sheetReader) endCell() error {
	cell, err := r.cell()
	if err != nil {
		return err
	}
	if cell.Text = strings.TrimSpace(cell.Text); cell == (Cell{}) {
		return nil
	}
	if r.column >= review.MostColumns {
		return fmt.Errorf("it has more than %d columns", review.MostColumns)
	}
	for len(r.row.Cells) <= r.column {
		r.row.Cells = append(r.row.Cells, Cell{})
	}
	r.row.Cells[r.column] = cell
	return nil
}

// cell is the value as its type says (ECMA-376, 18.18.11). Of a formula it is the one that the spreadsheet stored with it.
func (r *sheetReader) cell() (Cell, error) {
	if r.formula && !r.valued {
		return Cell{Uncounted: true}, nil
	}
	switch r.kind {
	case "s":
		at, err := strconv.Atoi(strings.TrimSpace(r.text))
		if err != nil || at < 0 || at >= len(r.book.strings) {
			return Cell{}, fmt.Errorf("%q is no number of a text", r.text)
		}
		return Cell{Text: unescape(r.book.strings[at])}, nil
	case "str", "inlineStr", "d":
		return Cell{Text: unescape(r.text)}, nil
	case "e":
		return Cell{Text: r.text, Kind: CellBroken}, nil
	case "b":
		return Cell{Text: map[string]string{"1": "yes", "0": "no"}[r.text]}, nil
	case "", "n":
		if r.text == "" {
			return Cell{}, nil
		}
		return r.number()
	}
	return Cell{}, fmt.Errorf("%q is no type of a cell", r.kind)
}

func (r *sheetReader) number() (Cell, error) {
	x, err := strconv.ParseFloat(strings.TrimSpace(r.text), 64)
	if err != nil || math.IsInf(x, 0) || math.IsNaN(x) {
		return Cell{}, errors.New("a number is none")
	}
	shown := look{}
	if r.style >= 0 && r.style < len(r.book.looks) {
		shown = r.book.looks[r.style]
	}
	if shown.day {
		if day, ok := dayOf(x, r.book.from1904); ok {
			return Cell{Text: day, Kind: CellDay, ShortYear: shown.shortYear}, nil
		}
	}
	text := plain(x)
	if shown.zeros > 0 && x >= 0 && x == math.Trunc(x) {
		text = strings.Repeat("0", max(shown.zeros-len(text), 0)) + text
		return Cell{Text: text}, nil // its zeros are meant
	}
	return Cell{Text: text, Kind: CellNumber}, nil
}

// plain is a number with the fifteen digits that spreadsheets have.
func plain(x float64) string {
	fifteen, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 15, 64), 64)
	if err != nil {
		fifteen = x
	}
	return strconv.FormatFloat(fifteen, 'f', -1, 64)
}

// dayOf is the day of a serial number (ECMA-376, 18.17.4): 1 is 1 January 1900, or 0 is 1 January 1904. The system of 1900 counts a 29
// February 1900 that there never was; before it days lie one further, and itself it is none.
func dayOf(serial float64, from1904 bool) (string, bool) {
	begin := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
	switch {
	case from1904:
		begin = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
	case serial < 1 || serial >= 60 && serial < 61:
		return "", false
	case serial < 60:
		begin = begin.AddDate(0, 0, 1)
	}
	const last = 2_958_466 // 31 December 9999 in the system of 1900
	if serial < 0 || serial >= last {
		return "", false
	}
	whole := math.Floor(serial)
	day := begin.AddDate(0, 0, int(whole))
	minutes := int(math.Round((serial - whole) * 24 * 60))
	if minutes == 0 {
		return day.Format(time.DateOnly), true
	}
	return day.Add(time.Duration(minutes) * time.Minute).Format("2006-01-02T15:04"), true
}

// unescape reads letters that XML cannot hold (ECMA-376, 22.9.2.19): _x000D_ is the end of a line.
func unescape(text string) string {
	for from := 0; ; {
		at := strings.Index(text[from:], "_x")
		if at < 0 {
			return text
		}
		at += from
		from = at + 2
		if len(text) < at+7 || text[at+6] != '_' {
			continue
		}
		code, err := strconv.ParseUint(text[at+2:at+6], 16, 32)
		if err != nil || code == 0 || code >= 0xd800 && code < 0xe000 {
			continue
		}
		text = text[:at] + string(rune(code)) + text[at+7:]
		from = at + len(string(rune(code)))
	}
}

// Package sheet draws labels on paper as PDF: values in, bytes out, the same bytes for the same values. What a label says was decided
// before (package label).
package sheet

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"math"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"revidit/review/label"
)

// CheckLine is as long as that on every page, in millimetres: printers rescale.
const CheckLine = 50.0

// Distances on the paper, in millimetres: our own. Most printers leave 4 to 6 mm at each edge white.
const (
	edge    = 14.0
	head    = 26.0 // of the page, above the labels
	markGap = 1.0  // between the labels and a crop mark
	mark    = 3.0  // length of a crop mark
	cross   = 0.4  // half of a small cross where labels meet
	hair    = 0.05 // width of all of them
)

// Piece is a label with how many of it.
type Piece struct {
	Label  label.Typeset
	Copies int
}

// Words are what a page says above its labels, in the language of who prints.
type Words struct {
	Title string // what is printed
	Check string // that the line has to be CheckLine long
	Paper string // on what to print
}

// Sheet is what is drawn.
type Sheet struct {
	Paper  label.Paper
	Size   label.Size
	Pieces []Piece
	Words  Words
	At     time.Time // the date in the file
}

// Grid is how many labels a page has.
func Grid(p label.Paper, s label.Size) (columns, rows int) {
	return int((p.Width - 2*edge + 1e-9) / s.Width), int((p.Height - edge - head + 1e-9) / s.Height)
}

// Pages is how many pages that many pieces fill.
func Pages(p label.Paper, s label.Size, pieces int) int {
	columns, rows := Grid(p, s)
	return (pieces + columns*rows - 1) / (columns * rows)
}

// At is the upper left corner of a piece on its page, in millimetres, and the page from 0.
func At(p label.Paper, s label.Size, n int) (page int, x, y float64) {
	columns, rows := Grid(p, s)
	page, n = n/(columns*rows), n%(columns*rows)
	return page, edge + float64(n%columns)*s.Width, head + float64(n/columns)*s.Height
}

const family = "LiberationSans"

// PDF draws a sheet.
func (s Sheet) PDF() ([]byte, error) {
	pdf := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: fpdf.SizeType{Wd: s.Paper.Width, Ht: s.Paper.Height}})
	pdf.SetCatalogSort(true) // else resources stand in the order of a map
	pdf.SetCreationDate(s.At.UTC())
	pdf.SetModificationDate(s.At.UTC())
	pdf.SetProducer("Revidit", true)
	pdf.SetTitle(s.Words.Title, true)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetMargins(0, 0, 0)
	pdf.AddUTF8FontFromBytes(family, "", bytes.Clone(regular))
	pdf.AddUTF8FontFromBytes(family, "I", bytes.Clone(italic))
	n := 0
	for i := range s.Pieces {
		for range s.Pieces[i].Copies {
			page, x, y := At(s.Paper, s.Size, n)
			if page == pdf.PageCount() {
				s.beginPage(pdf)
			}
			if err := s.draw(pdf, &s.Pieces[i].Label, x, y); err != nil {
				return nil, err
			}
			n++
		}
	}
	if n == 0 {
		return nil, fmt.Errorf("a sheet without labels")
	}
	var out bytes.Buffer
	if err := pdf.Output(&out); err != nil {
		return nil, fmt.Errorf("write a sheet: %w", err)
	}
	return out.Bytes(), nil
}

// beginPage draws what every page has: what it is, the check line, and the marks for scissors.
func (s Sheet) beginPage(pdf *fpdf.Fpdf) {
	pdf.AddPage()
	pdf.SetFont(family, "", 7)
	pdf.Text(edge, 8, s.Words.Title)
	pdf.Text(edge, 11.5, s.Words.Paper)
	pdf.Text(edge+CheckLine+3, 16.7, s.Words.Check)
	pdf.SetLineWidth(0.2)
	pdf.Line(edge, 15.8, edge+CheckLine, 15.8)
	pdf.SetLineWidth(hair)
	for _, x := range []float64{edge, edge + CheckLine} {
		pdf.Line(x, 14.3, x, 17.3)
	}
	columns, rows := Grid(s.Paper, s.Size)
	right, bottom := edge+float64(columns)*s.Size.Width, head+float64(rows)*s.Size.Height
	for i := range columns + 1 {
		x := edge + float64(i)*s.Size.Width
		pdf.Line(x, head-markGap-mark, x, head-markGap)
		pdf.Line(x, bottom+markGap, x, bottom+markGap+mark)
	}
	for j := range rows + 1 {
		y := head + float64(j)*s.Size.Height
		pdf.Line(edge-markGap-mark, y, edge-markGap, y)
		pdf.Line(right+markGap, y, right+markGap+mark, y)
	}
	for i := range columns + 1 {
		for j := range rows + 1 {
			x, y := edge+float64(i)*s.Size.Width, head+float64(j)*s.Size.Height
			pdf.Line(x-cross, y, x+cross, y)
			pdf.Line(x, y-cross, x, y+cross)
		}
	}
}

func (s Sheet) draw(pdf *fpdf.Fpdf, l *label.Typeset, x, y float64) error {
	leading := label.Leading(l.Point)
	top := y + (s.Size.Height-float64(len(l.Lines))*leading)/2
	for i, line := range l.Lines {
		at := x + l.TextLeft()
		for _, run := range line {
			style := ""
			if run.Italic {
				style = "I"
			}
			pdf.SetFont(family, style, l.Point)
			pdf.Text(at, top+float64(i)*leading+label.Baseline*leading, run.Text)
			at += Type{}.Width(run.Text, run.Italic, l.Point)
		}
	}
	if l.Code == nil {
		return nil
	}
	return s.drawCode(pdf, l.Code, x, y)
}

// matrix is a code as its library makes it.
type matrix interface {
	Bounds() image.Rectangle
	At(x, y int) color.Color
}

// drawCode draws the dark modules of each row as rectangles, from whole dots of a printer on.
func (s Sheet) drawCode(pdf *fpdf.Fpdf, c *label.Code, x, y float64) error {
	m, err := matrixOf(c.Content)
	if err != nil {
		return fmt.Errorf("the code of %q: %w", c.Content, err)
	}
	left := math.Ceil((x+c.Module)/label.Dot) * label.Dot
	top := math.Round((y+(s.Size.Height-float64(c.Modules)*c.Module)/2)/label.Dot) * label.Dot
	for row := range c.Modules {
		for from := 0; from < c.Modules; {
			to := from
			for to < c.Modules && dark(m, to, row) {
				to++
			}
			if to > from {
				pdf.Rect(left+float64(from)*c.Module, top+float64(row)*c.Module, float64(to-from)*c.Module, c.Module, "F")
			}
			from = to + 1
		}
	}
	return nil
}

func dark(m matrix, x, y int) bool {
	r, _, _, _ := m.At(x, y).RGBA()
	return r < 0x8000
}

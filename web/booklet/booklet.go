// Package booklet prints a key on paper: A5 pages one by one, or two on a side of A4 in the order in which the sheets are folded into a
// booklet. Equal keys give equal bytes.
package booklet

import (
	"bytes"
	"context"
	_ "embed"
	"fmt"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"revidit/review/diagnosis"
	"revidit/review/service"
)

// Liberation Serif 2.1 (SIL Open Font License 1.1; font/LICENSE).
var (
	//go:embed font/LiberationSerif-Regular.ttf
	regular []byte
	//go:embed font/LiberationSerif-Bold.ttf
	bold []byte
	//go:embed font/LiberationSerif-Italic.ttf
	italic []byte
)

// Sheet is the paper: pages of A5, or sheets of A4 to print on both sides (turned on the short edge), stack and fold.
type Sheet string

const (
	A4 Sheet = "a4"
	A5 Sheet = "a5"
)

// Sizes in mm. Text runs from margin to margin; a foot bears the number of the page.
const (
	pageWide, pageHigh = 148.5, 210.0
	margin, foot       = 11.0, 12.0
	textWide           = pageWide - 2*margin
	bottom             = pageHigh - foot - 2
	picture            = 9.0 // side of a drawing
	dotsPerMM          = 24  // of drawings: 600 to an inch
)

// Write is the key as PDF. t are the tables that it was made of, in the language of the context.
func Write(ctx context.Context, t *diagnosis.Tables, made *service.MadeKey, sheet Sheet) ([]byte, error) {
	pdf := begin(sheet)
	l := &layout{ctx: ctx, tables: t, made: made, pdf: pdf, drawn: map[string]int{}}
	l.all()
	if l.err != nil {
		return nil, l.err
	}
	for _, side := range order(len(l.pages), sheet) {
		pdf.AddPage()
		for half, n := range side {
			if n >= 1 && n <= len(l.pages) {
				l.print(n, float64(half)*pageWide)
			}
		}
	}
	var out bytes.Buffer
	if err := pdf.Output(&out); err != nil {
		return nil, fmt.Errorf("the key cannot be written as PDF: %w", err)
	}
	return out.Bytes(), nil
}

// order are the pages on each side of paper, from left to right; a number above that of the pages stays white.
func order(pages int, sheet Sheet) [][]int {
	var sides [][]int
	if sheet == A5 {
		for n := range pages {
			sides = append(sides, []int{n + 1})
		}
		return sides
	}
	all := (pages + 3) / 4 * 4
	for first, last := 1, all; first < last; first, last = first+2, last-2 {
		sides = append(sides, []int{last, first}, []int{first + 1, last - 1})
	}
	return sides
}

func begin(sheet Sheet) *fpdf.Fpdf {
	size := fpdf.SizeType{Wd: pageWide, Ht: pageHigh}
	if sheet == A4 {
		size.Wd = 2 * pageWide
	}
	pdf := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: size})
	pdf.SetCatalogSort(true)
	day := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC) // a key is of a release and of no day
	pdf.SetCreationDate(day)
	pdf.SetModificationDate(day)
	pdf.SetMargins(0, 0, 0)
	pdf.SetAutoPageBreak(false, 0)
	pdf.AddUTF8FontFromBytes("serif", "", regular)
	pdf.AddUTF8FontFromBytes("serif", "B", bold)
	pdf.AddUTF8FontFromBytes("serif", "I", italic)
	return pdf
}

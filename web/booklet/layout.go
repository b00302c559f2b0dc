package booklet

import (
	"context"
	"strconv"

	"codeberg.org/go-pdf/fpdf"

	"revidit/review/diagnosis"
	"revidit/review/service"
)

// mark is something on a page, drawn with the page shifted to the right.
type mark func(shift float64)

// layout sets pages; they are drawn when all are known.
type layout struct {
	ctx    context.Context
	tables *diagnosis.Tables
	made   *service.MadeKey
	pdf    *fpdf.Fpdf
	pages  [][]mark
	y      float64
	drawn  map[string]int // drawings that the file has, by name
	err    error
}

func (l *layout) newPage() {
	l.pages = append(l.pages, nil)
	l.y = margin
}

// room begins a new page where the height is not left on this one.
func (l *layout) room(height float64) {
	if len(l.pages) == 0 || l.y+height > bottom && l.y > margin {
		l.newPage()
	}
}

func (l *layout) put(m mark) {
	last := len(l.pages) - 1
	l.pages[last] = append(l.pages[last], m)
}

func (l *layout) print(n int, shift float64) {
	for _, m := range l.pages[n-1] {
		m(shift)
	}
	l.pdf.SetFont("serif", "", 8)
	number := strconv.Itoa(n)
	l.pdf.Text(shift+(pageWide-l.pdf.GetStringWidth(number))/2, pageHigh-foot/2, number)
}

// style is a face and size in points, with the height of a line in mm.
type style struct {
	face string
	size float64
}

func (s style) line() float64 { return s.size * 0.43 }

var (
	plain    = style{"", 8}
	small    = style{"", 7}
	slanted  = style{"I", 7}
	strong   = style{"B", 8.6}
	heading  = style{"B", 12}
	headline = style{"B", 20}
)

// broken is a text in lines of at most a width.
func (l *layout) broken(text string, s style, wide float64) []string {
	l.pdf.SetFont("serif", s.face, s.size)
	if text == "" {
		return nil
	}
	return l.pdf.SplitText(text, wide)
}

// lines puts lines at a place and returns their height.
func (l *layout) lines(lines []string, s style, x, y float64) float64 {
	for i, line := range lines {
		at := y + float64(i+1)*s.line() - s.line()*0.22
		l.put(func(shift float64) {
			l.pdf.SetFont("serif", s.face, s.size)
			l.pdf.Text(shift+x, at, line)
		})
	}
	return float64(len(lines)) * s.line()
}

// paragraph puts a text over the whole width, going on to new pages.
func (l *layout) paragraph(text string, s style, after float64) {
	for _, line := range l.broken(text, s, textWide) {
		l.room(s.line())
		l.y += l.lines([]string{line}, s, margin, l.y)
	}
	l.y += after
}

// rule draws a line across the text.
func (l *layout) rule() {
	y := l.y
	l.put(func(shift float64) {
		l.pdf.SetLineWidth(0.1)
		l.pdf.Line(shift+margin, y, shift+pageWide-margin, y)
	})
	l.y += 1.4
}

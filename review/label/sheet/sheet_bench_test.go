package sheet

import (
	"bytes"
	"fmt"
	"testing"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/label"
)

// BenchmarkSheet300 sets and draws 300 different locality labels, and beside that writes the same lines by plain calls of the PDF library:
// x/bare is how many times as long the whole takes, with the shortening of texts, crop marks and check line.
func BenchmarkSheet300(b *testing.B) {
	const labels = 300
	format, ok := label.SizeOf("")
	require.True(b, ok)
	paper, ok := label.PaperOf("")
	require.True(b, ok)
	set := func() Sheet {
		setter := label.Setter{Metrics: Type{}, Size: format}
		s := Sheet{Paper: paper, Size: format, At: time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC), Words: Words{Title: "Labels", Check: "50 mm", Paper: "ledger"}}
		for i := range labels {
			of := label.LocalityOf(review.Label{Country: "Austria", Province: "Tirol", CollectedFrom: "2026-05-28", Method: "pitfall trap", Habitat: fmt.Sprintf("meadow %d", i)},
				review.Withheld{Locality: fmt.Sprintf("Hintertal, slope %d above the mill", i), ElevationM: number(float64(500 + i)), Collector: "B. Wegerich"}, false)
			s.Pieces = append(s.Pieces, Piece{setter.Locality(of), 1})
		}
		return s
	}
	plain := func(s Sheet) int {
		pdf := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: fpdf.SizeType{Wd: paper.Width, Ht: paper.Height}})
		pdf.SetAutoPageBreak(false, 0)
		pdf.AddUTF8FontFromBytes(family, "", bytes.Clone(regular))
		pdf.AddUTF8FontFromBytes(family, "I", bytes.Clone(italic))
		for n := range s.Pieces {
			page, x, y := At(paper, format, n)
			if page == pdf.PageCount() {
				pdf.AddPage()
			}
			l := &s.Pieces[n].Label
			pdf.SetFont(family, "", l.Point)
			for i, line := range l.Lines {
				pdf.Text(x, y+float64(i+1)*label.Leading(l.Point), line.String())
			}
		}
		var out bytes.Buffer
		require.NoError(b, pdf.Output(&out))
		return out.Len()
	}
	var ours, bare time.Duration
	for b.Loop() {
		began := time.Now()
		s := set()
		text, err := s.PDF()
		require.NoError(b, err)
		ours += time.Since(began)
		began = time.Now()
		require.Greater(b, plain(s), len(text)/4)
		bare += time.Since(began)
	}
	b.ReportMetric(float64(ours)/float64(bare), "x/bare")
	b.ReportMetric(float64(ours.Milliseconds())/float64(b.N), "ms/sheet")
}

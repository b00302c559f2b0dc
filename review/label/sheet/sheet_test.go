package sheet

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/label"
)

// These tests read sheets back with poppler and with libdmtx's dmtxread, which know nothing of Revidit.

// tool runs a program and returns what it says.
func tool(t *testing.T, name string, args ...string) string {
	t.Helper()
	var said, wrong bytes.Buffer
	cmd := exec.CommandContext(t.Context(), name, args...)
	cmd.Stdout, cmd.Stderr = &said, &wrong
	require.NoError(t, cmd.Run(), "%s of poppler-utils or dmtx-utils: %s", name, wrong.String())
	return said.String()
}

func number(x float64) *float64 { return &x }

// numbers of catalogues, as different collections write them.
var numbers = []string{"AB-000001", "1", "MUS 12345-67", "ZSM-COL-2026-0000123", "x/y_z"}

// mixed is a sheet of every kind of label, in a size.
func mixed(t *testing.T, paper, size string) Sheet {
	t.Helper()
	format, ok := label.SizeOf(size)
	require.True(t, ok)
	on, ok := label.PaperOf(paper)
	require.True(t, ok)
	set := label.Setter{Metrics: Type{}, Size: format}
	s := Sheet{Paper: on, Size: format, At: time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC),
		Words: Words{Title: "Labels: Größe 18 × 7 mm", Check: "This line is 50 mm long on paper", Paper: "Linen ledger, 100 per cent rag"}}
	species := review.Determination{Family: "Elateridae", ScientificName: "Agriotes (Agriotes) lineatus (Linnaeus, 1767)", Qualifier: review.QualifierCf, Doubted: review.RankSpecies, DeterminedOn: "2026"}
	for _, n := range numbers {
		s.Pieces = append(s.Pieces, Piece{set.Catalogue(n), 1})
	}
	locality := label.LocalityOf(review.Label{Country: "Österreich", Province: "Tirol", CollectedFrom: "2026-05-28", CollectedTo: "2026-06-02", Method: "flight interception trap", HostPlant: "Quercus robur", Habitat: "Waldrand ♂"},
		review.Withheld{Locality: "Kauns, Burg Berneck, am Weg zur Alpe", ElevationM: number(1050), Latitude: number(47.07891), Longitude: number(10.69123), UncertaintyM: number(30), Collector: "Karl-Heinz von Au"}, false)
	s.Pieces = append(s.Pieces, Piece{set.Locality(locality), 12}, Piece{set.Slip(label.Determination(&species, "Henrike Oberleitner")), 2},
		Piece{set.Slip(label.Indet("Coleoptera, fam. indet.", "Odile Brandt", "2026")), 40})
	return s
}

// written puts a sheet into a file.
func written(t *testing.T, s Sheet) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "sheet.pdf")
	text, err := s.PDF()
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(file, text, 0o600))
	return file
}

func TestTheSameSheetIsTheSameBytes(t *testing.T) {
	s := mixed(t, "a4", "18x7")
	first, err := s.PDF()
	require.NoError(t, err)
	again, err := s.PDF()
	require.NoError(t, err)
	require.True(t, bytes.Equal(first, again))
	s.At = s.At.Add(time.Second)
	other, err := s.PDF()
	require.NoError(t, err)
	require.False(t, bytes.Equal(first, other), "its date stands in it")
}

func TestFontsAreEmbedded(t *testing.T) {
	lines := strings.Split(strings.TrimSpace(tool(t, "pdffonts", written(t, mixed(t, "a4", "18x7")))), "\n")
	require.Len(t, lines, 4, "two faces under a heading of two lines: %v", lines)
	for _, line := range lines[2:] {
		require.Contains(t, strings.ToLower(line), "liberation")
		require.Regexp(t, `Identity-H\s+yes`, line, "embedded: %s", line)
	}
}

// word is one of pdftotext's, in points from the upper left corner.
type textWord struct {
	XMin float64 `xml:"xMin,attr"`
	XMax float64 `xml:"xMax,attr"`
	YMin float64 `xml:"yMin,attr"`
	YMax float64 `xml:"yMax,attr"`
	Text string  `xml:",chardata"`
}

type textPage struct {
	Width  float64    `xml:"width,attr"`
	Height float64    `xml:"height,attr"`
	Words  []textWord `xml:"word"`
}

func pagesOf(t *testing.T, file string) []textPage {
	t.Helper()
	var read struct {
		Pages []textPage `xml:"body>doc>page"`
	}
	require.NoError(t, xml.Unmarshal([]byte(tool(t, "pdftotext", "-bbox", file, "-")), &read))
	require.NotEmpty(t, read.Pages)
	return read.Pages
}

// liberationHeight is ascent and descent of Liberation Sans in parts of its size: 1854 and 434 of 2048 (its hhea table).
const liberationHeight = (1854.0 + 434) / 2048

// TestTextIsInsideItsLabel: every word of every size on both papers, in the size of type that the label says.
func TestTextIsInsideItsLabel(t *testing.T) {
	for _, paper := range label.Papers {
		for _, size := range label.Sizes {
			s := mixed(t, paper.ID, size.ID)
			pages := pagesOf(t, written(t, s))
			require.InDelta(t, paper.Width/label.MMPerPoint, pages[0].Width, 0.02)
			require.InDelta(t, paper.Height/label.MMPerPoint, pages[0].Height, 0.02)
			columns, rows := Grid(paper, size)
			seen := 0
			for _, page := range pages {
				for _, w := range page.Words {
					x, y := w.XMin*label.MMPerPoint-edge, (w.YMin+w.YMax)/2*label.MMPerPoint-head
					if y < 0 {
						continue // above the labels
					}
					column, row := int(x/size.Width), int(y/size.Height)
					require.True(t, x >= 0 && column < columns && row < rows, "%+v", w)
					require.LessOrEqual(t, w.XMax*label.MMPerPoint-edge, float64(column+1)*size.Width, "%+v", w)
					points := (w.YMax - w.YMin) / liberationHeight
					if points < 3.49 || points > 4.01 {
						t.Fatalf("%.2f points: %+v", points, w)
					}
					seen++
				}
			}
			require.Greater(t, seen, 100)
			require.Len(t, pages, Pages(paper, size, 59))
		}
	}
}

// picture renders the upper left part of the first page, in millimetres, at 600 dots an inch.
func picture(t *testing.T, file string, wide, high float64) *image.Gray {
	t.Helper()
	root := strings.TrimSuffix(file, ".pdf")
	tool(t, "pdftoppm", "-r", "600", "-gray", "-f", "1", "-l", "1", "-singlefile", "-x", "0", "-y", "0", "-W", strconv.Itoa(dots(wide)), "-H", strconv.Itoa(dots(high)), file, root)
	raw, err := os.ReadFile(root + ".pgm")
	require.NoError(t, err)
	var width, height, most int
	_, err = fmt.Sscanf(string(raw[:min(len(raw), 40)]), "P5\n%d %d\n%d\n", &width, &height, &most)
	require.NoError(t, err)
	img := &image.Gray{Pix: raw[len(raw)-width*height:], Stride: width, Rect: image.Rect(0, 0, width, height)}
	require.Equal(t, 255, most)
	return img
}

// dots turns millimetres into dots of the picture.
func dots(mm float64) int { return int(mm/label.Dot + 0.5) }

func isInk(img *image.Gray, x, y int) bool { return img.GrayAt(x, y).Y < 128 }

// TestMeasuredOnPaper: the check line is 50 mm long, every code reads back, and no ink but that of crosses crosses from one label to
// another.
func TestMeasuredOnPaper(t *testing.T) {
	s := mixed(t, "a4", "18x7")
	img := picture(t, written(t, s), s.Paper.Width, s.Paper.Height)
	y, from, to := dots(15.8), 0, 0
	for x := range dots(edge + CheckLine + 2) {
		if isInk(img, x, y) {
			if from == 0 {
				from = x
			}
			to = x
		}
	}
	require.InDelta(t, CheckLine, float64(to-from)*label.Dot, 0.1)

	for n, number := range numbers {
		_, x, y := At(s.Paper, s.Size, n)
		require.Equal(t, number, readCode(t, img.SubImage(image.Rect(dots(x), dots(y), dots(x+s.Size.Width), dots(y+s.Size.Height)))))
	}

	columns, rows := Grid(s.Paper, s.Size)
	crossings := func(x, y float64) {
		if isInk(img, dots(x), dots(y)) {
			t.Fatalf("ink at %.2f, %.2f mm, where two labels meet", x, y)
		}
	}
	for column := range columns + 1 {
		for row := range rows {
			for at := cross + 0.15; at < s.Size.Height-cross-0.15; at += 0.1 {
				crossings(edge+float64(column)*s.Size.Width, head+float64(row)*s.Size.Height+at)
			}
		}
	}
	for row := range rows + 1 {
		for column := range columns {
			for at := cross + 0.15; at < s.Size.Width-cross-0.15; at += 0.1 {
				crossings(edge+float64(column)*s.Size.Width+at, head+float64(row)*s.Size.Height)
			}
		}
	}
	for _, x := range []float64{edge, edge + s.Size.Width, edge + float64(columns)*s.Size.Width} {
		require.True(t, isInk(img, dots(x), dots(head-2)) || isInk(img, dots(x)-1, dots(head-2)) || isInk(img, dots(x)+1, dots(head-2)), "a crop mark at %.1f mm", x)
	}
}

// readCode reads the Data Matrix of a label as a scanner sees it.
func readCode(t *testing.T, img image.Image) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "code.png")
	out, err := os.Create(file)
	require.NoError(t, err)
	require.NoError(t, png.Encode(out, img))
	require.NoError(t, out.Close())
	return tool(t, "dmtxread", "--stop-after=1", "--milliseconds=10000", file)
}

// TestCodesOfEverySize: the smallest module that is drawn reads back at 600 dots an inch, too.
func TestCodesOfEverySize(t *testing.T) {
	for _, size := range label.Sizes {
		set := label.Setter{Metrics: Type{}, Size: size}
		longest := ""
		for n := 1; n <= 60; n++ {
			number := strings.Repeat("Aq-", n)[:n]
			if set.Catalogue(number).Code == nil {
				break
			}
			longest = number
		}
		l := set.Catalogue(longest)
		require.GreaterOrEqual(t, l.Code.Module, 4*label.Dot-1e-9, size.ID)
		s := Sheet{Paper: label.Papers[1], Size: size, Pieces: []Piece{{l, 1}}, Words: Words{Title: "t", Check: "c", Paper: "p"}}
		img := picture(t, written(t, s), 60, 60)
		_, x, y := At(s.Paper, size, 0)
		require.Equal(t, longest, readCode(t, img.SubImage(image.Rect(dots(x), dots(y), dots(x+size.Width), dots(y+size.Height)))), "%s: %d modules of %.3f mm", size.ID, l.Code.Modules, l.Code.Module)
	}
}

// TestWidthsAreThoseOfTheFile: what labels are measured by is what a reader of the file measures.
func TestWidthsAreThoseOfTheFile(t *testing.T) {
	s := Sheet{Paper: label.Papers[0], Size: label.Size{Width: 60, Height: 7}, Words: Words{Title: "t", Check: "c", Paper: "p"}}
	for _, text := range []string{"Österreich", "Quercus", "♂♀", "47.0789°N"} {
		s.Pieces = append(s.Pieces, Piece{label.Typeset{Point: 4, Lines: []label.Line{{{Text: text}}, {{Text: text, Italic: true}}}}, 1})
	}
	found := 0
	for _, w := range pagesOf(t, written(t, s))[0].Words {
		for _, p := range s.Pieces {
			if w.Text == p.Label.Lines[0].String() {
				wide := (w.XMax - w.XMin) * label.MMPerPoint
				one, other := Type{}.Width(w.Text, false, 4), Type{}.Width(w.Text, true, 4)
				require.True(t, near(wide, one) || near(wide, other), "%s is %.4f mm wide and not %.4f or %.4f", w.Text, wide, one, other)
				found++
			}
		}
	}
	require.Equal(t, 2*len(s.Pieces), found)
}

func near(a, b float64) bool { return a-b < 0.02 && b-a < 0.02 }

func TestGrid(t *testing.T) {
	columns, rows := Grid(label.Papers[0], label.Sizes[0])
	require.Equal(t, "10 36", fmt.Sprint(columns, rows))
	page, x, y := At(label.Papers[0], label.Sizes[0], 371)
	require.Equal(t, 1, page)
	require.InDelta(t, edge+18, x, 1e-9)
	require.InDelta(t, head+7, y, 1e-9)
	_, err := Sheet{Paper: label.Papers[0], Size: label.Sizes[0]}.PDF()
	require.Error(t, err)
}

// The version of the font stands in its file: it is the one whose licence lies beside it.
func TestFontIsTheFreeOne(t *testing.T) {
	licence, err := os.ReadFile("font/LICENSE")
	require.NoError(t, err)
	require.Contains(t, string(licence), "SIL OPEN FONT LICENSE Version 1.1")
	version := regexp.MustCompile(`V\x00e\x00r\x00s\x00i\x00o\x00n\x00 \x00(2\x00\.\x00\d\x00\.\x00\d)`).FindSubmatch(regular)
	require.NotNil(t, version)
	major, err := strconv.Atoi(string(version[1][:1]))
	require.NoError(t, err)
	require.Equal(t, 2, major, "version 1 was under another licence")
}

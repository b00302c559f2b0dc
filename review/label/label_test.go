package label_test

import (
	"encoding/csv"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"revidit/review"
	"revidit/review/label"
	"revidit/review/label/sheet"
)

func setter(t require.TestingT, size string) label.Setter {
	s, ok := label.SizeOf(size)
	require.True(t, ok, size)
	return label.Setter{Metrics: sheet.Type{}, Size: s}
}

func number(x float64) *float64 { return &x }

// texts are the lines of a label.
func texts(l label.Typeset) []string {
	lines := []string{}
	for _, line := range l.Lines {
		lines = append(lines, strings.ReplaceAll(line.String(), "\u00a0", " "))
	}
	return lines
}

func hows(l label.Typeset) []string {
	said := []string{}
	for _, s := range l.Shortened {
		said = append(said, string(s.Field)+" "+string(s.How))
	}
	return said
}

// fiveLines is a locality label as Schiefer and MacGown (2016) have it: five lines.
func fiveLines() label.Locality {
	return label.LocalityOf(review.Label{Country: "Austria", Province: "Tirol", CollectedFrom: "2026-05-14", Method: "sweeping"},
		review.Withheld{Locality: "Kauns, Burg Berneck", ElevationM: number(1050), Latitude: number(47.0789), Longitude: number(10.6912), Collector: "I. Kron"}, false)
}

// TestPractice holds sizes and type to every row of testdata/practice.
func TestPractice(t *testing.T) {
	file, err := os.Open("testdata/practice/label_practice.csv")
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	usual := label.Sizes[0]
	checks := map[string]func(t *testing.T){
		"text size of pinned-specimen labels": func(t *testing.T) {
			require.Equal(t, 4.0, label.Point)
			require.InDelta(t, 1.411, label.Leading(label.Point), 0.0005, "lines stand exactly 4 point apart")
			require.InDelta(t, 0.556*4*label.MMPerPoint, sheet.Type{}.Width("n", false, 4), 0.002, "as wide as Helvetica: n is 556 of 1000 (its AFM, from memory)")
		},
		"lines on the first (locality) label": func(t *testing.T) {
			require.InDelta(t, 7.06, 5*label.Leading(label.Point), 0.005)
			l := setter(t, "18x8").Locality(fiveLines())
			require.Len(t, l.Lines, 5, "%v", texts(l))
			require.Equal(t, 4.0, l.Point)
			require.Empty(t, l.Shortened)
		},
		"largest pin label in a youth collection": func(t *testing.T) {
			s, ok := label.SizeOf("22.2x7.9")
			require.True(t, ok)
			require.InDelta(t, 7.0/8*25.4, s.Width, 0.05)
			require.InDelta(t, 5.0/16*25.4, s.Height, 0.05)
			for _, other := range label.Sizes {
				require.LessOrEqual(t, other.Width, s.Width)
			}
		},
		"professional labels": func(t *testing.T) {
			require.Less(t, usual.Width*usual.Height, 22.2*7.9)
		},
		"identification label": func(t *testing.T) {
			kinds := fmt.Sprint(review.PinLabelKinds)
			require.Less(t, strings.Index(kinds, "locality"), strings.Index(kinds, "determination"), "it stands below the locality label")
		},
		"identification label is a separate label": func(t *testing.T) {
			require.NotContains(t, strings.Join(texts(setter(t, "").Locality(fiveLines())), " "), "det.")
		},
		"paper": func(t *testing.T) { // whoever prints is told so
			said, err := os.ReadFile("../../web/words/labels.en.yaml")
			require.NoError(t, err)
			require.Regexp(t, `which-paper: .*linen ledger, 100 % rag, 36 pound \(about 135 g/m²\).*stay flat and do not turn on the pin`, string(said))
			const pound, inch = 0.45359237, 0.0254 // international pound and inch; 500 sheets of 17 x 22 inches weigh so much (common practice, no source)
			require.InDelta(t, 135, 36*pound*1000/(500*17*inch*22*inch), 1)
		},
		"standard for label data": func(t *testing.T) {
			said := strings.Join(texts(setter(t, "18x8").Locality(fiveLines())), " ")
			for _, datum := range []string{"AUSTRIA", "Tirol", "Kauns", "1050 m", "47.0789°N", "14.v.2026", "I. Kron"} {
				require.Contains(t, said, datum, "no size is taken from it, and no datum left out")
			}
		},
		"readable range of sizes": func(t *testing.T) {
			for _, point := range []float64{label.Point, label.SmallPoint} {
				require.GreaterOrEqual(t, point, 3.5)
				require.LessOrEqual(t, point, 5.0)
			}
			require.InDelta(t, 1.058, 3*label.MMPerPoint, 0.0005)
			require.InDelta(t, 1.764, 5*label.MMPerPoint, 0.0005)
		},
		"one 4-point locality label of four lines": func(t *testing.T) {
			s, ok := label.SizeOf("17.8x12.7")
			require.True(t, ok)
			require.InDelta(t, 0.5*25.4, s.Height, 0.01)
			require.InDelta(t, 0.7*25.4, s.Width, 0.03)
			l := setter(t, s.ID).Locality(fiveLines())
			require.GreaterOrEqual(t, len(l.Lines), 4)
			require.Empty(t, l.Shortened)
		},
		"usual size of a determination label": func(t *testing.T) {
			require.True(t, usual.Width >= 15 && usual.Width <= 20 && usual.Height >= 6 && usual.Height <= 9)
			l := setter(t, "").Slip(label.Slip{Plain: "Elateridae", Words: "det.", Name: "Henrike Oberleitner", Year: "2026"})
			require.True(t, len(l.Lines) >= 2 && len(l.Lines) <= 4)
		},
		"usual content of a determination label": func(t *testing.T) {
			d := review.Determination{Family: "Elateridae", ScientificName: "Agriotes lineatus (Linnaeus, 1767)", DeterminedOn: "2026-05-14"}
			require.Equal(t, []string{"Agriotes lineatus", "(Linnaeus, 1767)", "det. I. Kron 2026"}, texts(setter(t, "").Slip(label.Determination(&d, "I. Kron"))))
		},
		"point": func(t *testing.T) { require.InDelta(t, 0.352778, label.MMPerPoint, 5e-7) },
	}
	for _, row := range rows[1:] {
		check, ok := checks[row[0]]
		require.True(t, ok, "a fact that nothing is held to: %s", row[0])
		t.Run(row[0], check)
	}
	require.Len(t, rows, len(checks)+1)
}

func TestRomanDate(t *testing.T) {
	for _, c := range [][3]string{
		{"2026-05-14", "", "14.v.2026"}, {"2026-05", "", "v.2026"}, {"2026", "", "2026"}, {"", "", ""},
		{"2026-05-28", "2026-06-02", "28.v.-2.vi.2026"}, {"2026-05-28", "2026-05-30", "28.-30.v.2026"}, {"2025-12-28", "2026-01-02", "28.xii.2025-2.i.2026"},
		{"2026-05", "2026-06", "v.-vi.2026"}, {"2025", "2026", "2025-2026"}, {"2026-05-14", "2026-06", "14.v.2026-vi.2026"}, {"2026-05-14", "2026-05-14", "14.v.2026"},
	} {
		require.Equal(t, c[2], label.RomanDate(c[0], c[1]), "%v", c)
	}
}

// TestSlips: a slip names what its signer has said, and nothing below.
func TestSlips(t *testing.T) {
	s := setter(t, "18x8")
	species := review.Determination{Family: "Elateridae", ScientificName: "Agriotes (Agriotes) lineatus (Linnaeus, 1767)", Qualifier: review.QualifierCf, Doubted: review.RankSpecies, DeterminedOn: "2026"}
	family := review.Determination{Family: "Carabidae", Qualifier: review.QualifierDoubt}
	agrees := func(rank review.Rank, basis review.Basis) *review.Opinion {
		return &review.Opinion{Kind: review.OpinionAgrees, Rank: rank, Basis: basis}
	}
	for _, c := range []struct {
		slip label.Slip
		want string
	}{
		{label.Determination(&species, "E. Hand"), "Agriotes (Agriotes) cf. lineatus (Linnaeus, 1767) det. E. Hand 2026"},
		{label.Determination(&family, "E. Hand"), "Carabidae ? det. E. Hand"},
		{label.Opinion(agrees(review.RankSpecies, review.BasisSpecimen), &species, "H. Au", "2026-06-01"), "Agriotes (Agriotes) cf. lineatus (Linnaeus, 1767) conf. H. Au 2026"},
		{label.Opinion(agrees(review.RankGenus, review.BasisPhotos), &species, "H. Au", "2026-06-01"), "Agriotes (Agriotes) conf. from photo H. Au 2026"},
		{label.Opinion(agrees("family", review.BasisDissected), &species, "H. Au", "2026-06-01"), "Elateridae conf. H. Au 2026"},
		{label.Opinion(agrees("", review.BasisDissected), &species, "H. Au", "2026-06-01"), "Elateridae conf. H. Au 2026"},
		{label.Opinion(&review.Opinion{Kind: review.OpinionAnother, Family: "Eucnemidae"}, &species, "H. Au", "2026-06-01"), "Eucnemidae det. H. Au 2026"},
		{label.Indet(review.Indet("Coleoptera", "family"), "H. Au", "2026-06-01"), "Coleoptera, fam. indet. det. H. Au 2026"},
	} {
		l := s.Slip(c.slip)
		require.Equal(t, c.want, strings.Join(texts(l), " "))
		require.Empty(t, l.Shortened, c.want)
	}
}

// TestItalics: names are italic, qualifiers and authors upright.
func TestItalics(t *testing.T) {
	for _, c := range [][2]string{
		{"Agriotes lineatus (Linnaeus, 1767)", "<Agriotes lineatus> (Linnaeus, 1767)"},
		{"Carabus auronitens subsp. festivus Dejean, 1826", "<Carabus auronitens >subsp. <festivus> Dejean, 1826"},
		{"Agriotes (Agriotes) lineatus von Au, 1901", "<Agriotes (Agriotes) lineatus> von Au, 1901"},
		{"Agriotes Eschscholtz, 1829", "<Agriotes> Eschscholtz, 1829"},
		{"Agriotes sp.", "<Agriotes >sp."},
	} {
		d := review.Determination{ScientificName: c[0]}
		l := label.Setter{Metrics: sheet.Type{}, Size: label.Size{Width: 200, Height: 30}}.Slip(label.Determination(&d, ""))
		said := ""
		for _, r := range l.Lines[0] {
			if r.Italic {
				said += "<" + r.Text + ">"
			} else {
				said += r.Text
			}
		}
		require.Equal(t, strings.ReplaceAll(c[1], " >", "> "), strings.ReplaceAll(said, " >", "> "), c[0])
	}
}

// TestShortening: first abbreviations, then smaller type, then what can be found again, and country, place, date and collector last.
func TestShortening(t *testing.T) {
	long := label.LocalityOf(review.Label{Country: "Österreich", Province: "Niederösterreich", CollectedFrom: "2026-05-28", CollectedTo: "2026-06-02", Method: "Flight interception trap", HostPlant: "Quercus robur", Habitat: "Eichenwald am Hang über der Thaya"},
		review.Withheld{Locality: "Nationalpark Thayatal, nördlich von Merkersdorf, Umlaufberg", District: "Bezirk Hollabrunn", ElevationM: number(412.4), Latitude: number(48.845612), Longitude: number(15.870934), UncertaintyM: number(50), Collector: "Karl-Heinz von Au, Ida Kron"}, false)
	l := setter(t, "18x7").Locality(long)
	said := strings.Join(texts(l), " ")
	require.LessOrEqual(t, len(l.Lines), 5)
	require.Equal(t, 3.5, l.Point)
	for _, kept := range []string{"ÖSTERREICH", "28.v.-2.vi.2026", "leg. K.-H. von Au, I. Kron", "N Merkersdorf", "48.8456°N"} {
		require.Contains(t, said, kept, "%v", texts(l))
	}
	order := hows(l)
	require.Equal(t, "method abbreviated", order[0])
	require.Contains(t, order, "place abbreviated")
	require.Contains(t, order, "collector initials")
	require.Contains(t, order, "habitat left-out")
	require.Less(t, strings.Index(strings.Join(order, ";"), "label smaller-type"), strings.Index(strings.Join(order, ";"), "habitat left-out"))
	require.NotContains(t, order, "country cut")

	large := label.Setter{Metrics: sheet.Type{}, Size: label.Size{Width: 40, Height: 20}}.Locality(long)
	require.Empty(t, large.Shortened, "where there is room nothing is shortened")
}

func TestTheExactPlaceIsNotClaimed(t *testing.T) {
	l := setter(t, "").Locality(label.LocalityOf(review.Label{Country: "Austria"}, review.Withheld{Latitude: number(47.1), Longitude: number(-10.7)}, true))
	require.Equal(t, "AUSTRIA: 47.1°N 10.7°W, place withheld", strings.Join(texts(l), " "))
	require.True(t, label.LocalityOf(review.Label{}, review.Withheld{}, false).Empty())
}

func TestLettersThatTheTypeLacks(t *testing.T) {
	l := setter(t, "").Locality(label.LocalityOf(review.Label{Country: "日本"}, review.Withheld{Locality: "a\u0308ußerer See ♂"}, false))
	require.Equal(t, "??: äußerer See ♂", strings.Join(texts(l), " "), "what is composed of two is one")
	require.Equal(t, []string{"country letters"}, hows(l))
}

func TestCatalogue(t *testing.T) {
	s := setter(t, "")
	l := s.Catalogue("AB-000001")
	require.Equal(t, 14, l.Code.Modules, "packages tried: AB-000001 is 14 x 14")
	require.LessOrEqual(t, l.Code.Side(), s.Size.Height)
	require.Empty(t, l.Shortened)
	long := strings.Repeat("Long-number/", 5)
	require.Contains(t, hows(setter(t, "15x6").Catalogue(long)), "number without-code", "modules would be smaller than readers see")
	require.Contains(t, hows(s.Catalogue("Ж-1")), "number no-code-of-it")
}

// TestNothingRunsOut: whatever stands in a specimen, every line of every label of every size is inside of it, and all of it is said or
// told to be shortened.
func TestNothingRunsOut(t *testing.T) {
	words := rapid.StringOfN(rapid.RuneFrom([]rune("abcäßWMi .,-()/♂Ж'&;|日")), 0, 60, -1)
	rapid.Check(t, func(t *rapid.T) {
		s := setter(t, rapid.SampledFrom(label.Sizes).Draw(t, "size").ID)
		open := review.Label{Country: words.Draw(t, "country"), Province: words.Draw(t, "province"), CollectedFrom: "2026-05-28", CollectedTo: "2026-06-02", Method: words.Draw(t, "method"),
			HostPlant: words.Draw(t, "host"), Habitat: words.Draw(t, "habitat")}
		seen := review.Withheld{Locality: words.Draw(t, "place"), District: words.Draw(t, "district"), Latitude: number(-47.123456), Longitude: number(179.5), Collector: words.Draw(t, "collector")}
		d := review.Determination{Family: "Elateridae", ScientificName: words.Draw(t, "name"), Qualifier: review.QualifierAff, Doubted: review.RankGenus, DeterminedOn: "2026"}
		for _, l := range []label.Typeset{s.Locality(label.LocalityOf(open, seen, false)), s.Slip(label.Determination(&d, words.Draw(t, "person"))), s.Catalogue(words.Draw(t, "number"))} {
			height := float64(len(l.Lines)) * label.Leading(l.Point)
			require.LessOrEqual(t, height, s.Size.Height)
			require.GreaterOrEqual(t, l.Point, 3.5)
			for _, line := range l.Lines {
				width := l.TextLeft()
				for _, r := range line {
					width += sheet.Type{}.Width(r.Text, r.Italic, l.Point)
				}
				require.LessOrEqual(t, width, s.Size.Width, "%q", line.String())
			}
			if l.Point < label.Point {
				require.NotEmpty(t, l.Shortened)
			}
		}
	})
}

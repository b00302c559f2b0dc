package pages

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"revidit/review/diagnosis"
)

// area is a rectangle: left, top, right, bottom.
type area [4]float64

func (a area) overlaps(b area) bool { return a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3] }

// textBox is what a label takes in the wide font.
func textBox(l plateLabel) area {
	width := 0.0
	for _, line := range l.Lines {
		width = max(width, line.width()*l.unit)
	}
	x := l.textX()
	if l.Place.Side == diagnosis.SideLeft {
		return area{x - width, l.Top, x, l.Top + l.height()}
	}
	return area{x, l.Top, x + width, l.Top + l.height()}
}

func numberBox(l plateLabel) area {
	r := numberRadius * l.unit
	return area{l.NumberX - r, l.NumberY - r, l.NumberX + r, l.NumberY + r}
}

func TestLabelsOfPlatesDoNotCollideInAWideFont(t *testing.T) {
	tables := diagnosis.Default()
	require.NotEmpty(t, tables.Plates)
	for i := range tables.Plates {
		plate := &tables.Plates[i]
		t.Run(plate.ID, func(t *testing.T) {
			l := layoutOf(tables, plate)
			require.NotEmpty(t, l.Labels)
			beside := (plateUnits/wideShare - plateUnits) / 2 * l.Unit // on each side of the drawing with its numbers
			for j, a := range l.Labels {
				require.Equal(t, j+1, a.Number)
				text := textBox(a)
				require.GreaterOrEqual(t, text[0], l.Box[0]-beside, a.Part.ID)
				require.LessOrEqual(t, text[2], l.Box[0]+l.Box[2]+beside, a.Part.ID)
				require.False(t, text.overlaps(area{l.Box[0], l.Box[1], l.Box[0] + l.Box[2], l.Box[1] + l.Box[3]}), "%s lies on the drawing", a.Part.ID)
				number := numberBox(a)
				require.LessOrEqual(t, wideWidth("88", numberSize), 2*numberRadius, "two digits stand within their circle")
				require.GreaterOrEqual(t, number[1], l.Box[1]-1e-6, a.Part.ID)
				require.LessOrEqual(t, number[3], l.Box[1]+l.Box[3]+1e-6, a.Part.ID)
				require.False(t, number.overlaps(area{plate.Box[0], plate.Box[1], plate.Box[0] + plate.Box[2], plate.Box[1] + plate.Box[3]}), "%s: its number lies on the drawing", a.Part.ID)
				for _, b := range l.Labels[j+1:] {
					require.False(t, text.overlaps(textBox(b)), "%s and %s", a.Part.ID, b.Part.ID)
					require.False(t, number.overlaps(numberBox(b)), "%s and %s", a.Part.ID, b.Part.ID)
					require.False(t, a.crosses(&b), "the lines of %s and %s cross", a.Part.ID, b.Part.ID)
				}
			}
		})
	}
}

func TestIntervalsAreMovedApartInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 20).Draw(t, "n")
		wanted, lengths := make([]float64, n), make([]float64, n)
		total := 0.0
		for i := range n {
			wanted[i] = rapid.Float64Range(-50, 150).Draw(t, "wanted")
			lengths[i] = rapid.Float64Range(0.5, 9).Draw(t, "length")
			total += lengths[i]
		}
		slices.Sort(wanted)
		from, to := 0.0, 100.0
		got := apart(wanted, lengths, from, to)
		for i := range n {
			if i > 0 && got[i]-lengths[i]/2 < got[i-1]+lengths[i-1]/2-1e-9 {
				t.Fatalf("%v overlaps its neighbour: %v of %v", i, got, lengths)
			}
			if total <= to-from && (got[i]-lengths[i]/2 < from-1e-9 || got[i]+lengths[i]/2 > to+1e-9) {
				t.Fatalf("%v lies outside: %v", i, got)
			}
		}
		// Whoever has room stays where they want to be.
		room := true
		for i := range n {
			room = room && wanted[i]-lengths[i]/2 >= from && wanted[i]+lengths[i]/2 <= to && (i == 0 || wanted[i]-lengths[i]/2 >= wanted[i-1]+lengths[i-1]/2)
		}
		for i := range n {
			if room && math.Abs(got[i]-wanted[i]) > 1e-9 {
				t.Fatalf("%v moved without need: %v, wanted %v", i, got, wanted)
			}
		}
	})
}

func TestLongNamesBreakBetweenWords(t *testing.T) {
	lines := labelLines("a name that is much too long for one line of the column", "term")
	require.Greater(t, len(lines), 2)
	var words []string
	for _, l := range lines {
		require.LessOrEqual(t, l.width(), columnWidth)
		words = append(words, l.Name)
	}
	require.Equal(t, "a name that is much too long for one line of the column", strings.TrimSpace(strings.Join(words, " ")))
	require.Equal(t, []labelLine{{"eye", "oculus"}}, labelLines("eye", "oculus"))
}

func TestMarkupOfAPlate(t *testing.T) {
	b := BookOf(diagnosis.Default())
	plate, ok := b.Plate("above")
	require.True(t, ok)
	chosen := PlateData{Plate: plate, Chosen: []string{"antenna"}, Href: PartsData{}.plate(b, plate).Href}
	markup := chosen.markup(b)

	require.NotContains(t, markup, "<svg")
	require.Equal(t, strings.Count(markup, "<g"), strings.Count(markup, "</g>"))
	require.Equal(t, strings.Count(markup, "<a "), strings.Count(markup, "</a>"))
	require.Equal(t, 2, strings.Count(markup, `class="chosen"`), "two antennae")
	require.Contains(t, markup, `href="/tables/coleoptera-adults/parts?part=antenna-club"><title>club of the antenna</title>`)
	for _, link := range strings.Split(markup, "<a ")[1:] {
		inside, _, _ := strings.Cut(link, "</a>")
		require.NotContains(t, inside, "<g", "a link holds shapes alone, so that none lies in another")
	}
	plain := PlateData{Plate: plate}
	require.NotContains(t, plain.markup(b), "<a ")
}

func TestPlateAlone(t *testing.T) {
	tables := diagnosis.Default()
	plate, _ := tables.Plate("below")
	whole, part := PlateAlone(tables, plate, nil), PlateAlone(tables, plate, []string{"ventrites"})
	require.NotContains(t, whole, "#b3240b")
	require.Contains(t, whole, `viewBox="-215 0 430 640"`)
	require.Equal(t, 1, strings.Count(part, "#b3240b"))
	require.NotContains(t, part, `viewBox="-215 0 430 640"`)
	require.Less(t, len(part), len(plate.SVG())*3/4)
}

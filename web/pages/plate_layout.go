package pages

import (
	"cmp"
	"html"
	"math"
	"slices"
	"strconv"
	"strings"

	"revidit/review/diagnosis"
)

// A plate stands in the middle of its figure. On a wide page labels stand in a column on each side of it, on a narrow one
// numbers do, with a legend below. Everything is measured in units: plateUnits of them are as wide as the drawing with the
// numbers on both sides, so that labels of all plates come out in the same size. The share of the figure that the drawing
// takes on a wide page stands in style.css (.plate-figure svg).
const (
	plateUnits   = 480.0
	numberStrip  = 30.0  // on each side of the drawing
	columnWidth  = 206.0 // of the labels, on each side
	columnGap    = 10.0  // between the numbers' strip and the labels
	labelSize    = 13.0
	lineHeight   = 15.5
	labelSpace   = 7.0
	numberSize   = 19.0
	numberRadius = 14.0
	numberSpace  = 1.0
	wideShare    = 0.52 // as in style.css
)

// wideWidths are the widths of the characters from space to tilde in DejaVu Sans Bold 2.37, in thousandths of the size: one of
// the widest fonts in which people read. Whatever fits in it fits in others.
var wideWidths = [...]float64{348, 456, 521, 838, 696, 1002, 872, 306, 457, 457, 523, 838, 380, 415, 380, 365, 696, 696, 696, 696, 696, 696,
	696, 696, 696, 696, 400, 400, 838, 838, 838, 580, 1000, 774, 762, 734, 830, 683, 683, 821, 837, 372, 372, 775, 637, 995, 837, 850, 733,
	850, 770, 720, 682, 812, 774, 1103, 771, 724, 725, 457, 365, 457, 838, 500, 500, 675, 716, 593, 716, 678, 435, 716, 712, 343, 343, 665,
	343, 1042, 712, 687, 716, 716, 493, 595, 478, 712, 652, 924, 645, 652, 582, 712, 365, 712, 838}

// widestOther is taken for any other character.
const widestOther = 1103

// wideWidth is how wide a text is in that font, in units, at a size in units.
func wideWidth(text string, size float64) float64 {
	width := 0.0
	for _, r := range text {
		if i := int(r - ' '); i >= 0 && i < len(wideWidths) {
			width += wideWidths[i]
		} else {
			width += widestOther
		}
	}
	return width * size / 1000
}

// labelLine is a line of a label: words of the name, then words of the trade's term.
type labelLine struct{ Name, Term string }

func (l labelLine) width() float64 {
	text := l.Name
	if l.Name != "" && l.Term != "" {
		text += "  "
	}
	return wideWidth(text+l.Term, labelSize)
}

// plateLabel is the label of a part on a plate, with its number; all places are in the coordinates of the drawing.
type plateLabel struct {
	Part   *diagnosis.Part
	Number int
	Place  diagnosis.Place
	Lines  []labelLine
	// X is the edge of the text nearest to the drawing, Top the upper edge of the first line.
	X, Top float64
	// NumberX and NumberY are the centre of the number.
	NumberX, NumberY float64

	unit float64
}

// plateLayout is where the labels of a plate stand.
type plateLayout struct {
	Labels []plateLabel // by number: down the left side, then down the right
	Unit   float64      // how many coordinates of the drawing a unit is
	Box    [4]float64   // the drawing with its numbers
}

// layoutOf places the labels of a plate so that none lies on another and no two lines cross.
func layoutOf(t *diagnosis.Tables, plate *diagnosis.Plate) plateLayout {
	unit := plate.Box[2] / (plateUnits - 2*numberStrip)
	strip := numberStrip * unit
	l := plateLayout{Unit: unit, Box: [4]float64{plate.Box[0] - strip, plate.Box[1], plate.Box[2] + 2*strip, plate.Box[3]}}
	left, right := labelsBeside(t, plate, diagnosis.SideLeft), labelsBeside(t, plate, diagnosis.SideRight)
	if more := max(room(left), room(right))*unit - l.Box[3]; more > 0 {
		l.Box[1] -= more / 2
		l.Box[3] += more
	}
	for side, labels := range map[diagnosis.Side][]plateLabel{diagnosis.SideLeft: left, diagnosis.SideRight: right} {
		l.arrange(labels, side)
	}
	l.Labels = append(left, right...)
	for i := range l.Labels {
		l.Labels[i].Number = i + 1
	}
	return l
}

// room is how many units of height the labels of a side, or their numbers, need.
func room(labels []plateLabel) float64 {
	text := 0.0
	for _, l := range labels {
		text += float64(len(l.Lines))*lineHeight + labelSpace
	}
	return max(text, float64(len(labels))*(2*numberRadius+numberSpace))
}

func labelsBeside(t *diagnosis.Tables, plate *diagnosis.Plate, side diagnosis.Side) []plateLabel {
	var labels []plateLabel
	for i := range t.Parts {
		p := &t.Parts[i]
		if place, ok := p.On(plate.ID); ok && place.Labelled && place.Side == side {
			labels = append(labels, plateLabel{Part: p, Place: place, Lines: labelLines(p.Name, shortTerm(p.Term))})
		}
	}
	return labels
}

// shortTerm is a term as it stands on a label: without its plural and without what follows it.
func shortTerm(term string) string {
	short, _, _ := strings.Cut(term, ",")
	short, _, _ = strings.Cut(short, " (")
	return short
}

// labelLines breaks a name and a term into lines that fit the column: on one line where both fit there.
func labelLines(name, term string) []labelLine {
	if one := (labelLine{name, term}); one.width() <= columnWidth {
		return []labelLine{one}
	}
	var lines []labelLine
	for _, words := range broken(name) {
		lines = append(lines, labelLine{Name: words})
	}
	for _, words := range broken(term) {
		lines = append(lines, labelLine{Term: words})
	}
	return lines
}

// broken breaks a text between words.
func broken(text string) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(text) {
		longer := strings.TrimSpace(line + " " + word)
		if line != "" && wideWidth(longer, labelSize) > columnWidth {
			lines = append(lines, line)
			longer = word
		}
		line = longer
	}
	return append(lines, line)
}

// arrange gives the labels of one side their places, from top to bottom.
func (l *plateLayout) arrange(labels []plateLabel, side diagnosis.Side) {
	slices.SortStableFunc(labels, func(a, b plateLabel) int { return cmp.Compare(a.Place.Y, b.Place.Y) })
	left := side == diagnosis.SideLeft
	textX, numberX := l.Box[0]+l.Box[2]+columnGap*l.Unit, l.Box[0]+l.Box[2]-numberStrip/2*l.Unit
	if left {
		textX, numberX = l.Box[0]-columnGap*l.Unit, l.Box[0]+numberStrip/2*l.Unit
	}
	for i := range labels {
		labels[i].X, labels[i].NumberX, labels[i].unit = textX, numberX, l.Unit
	}
	// A label that has changed places with its neighbour changes where both stand, so that lines are looked at again.
	for range len(labels)*len(labels) + 1 {
		l.spread(labels)
		if !uncross(labels) {
			return
		}
	}
}

// spread moves labels apart, each as little as it can from the height of its part.
func (l *plateLayout) spread(labels []plateLabel) {
	heights, numbers, wanted := make([]float64, len(labels)), make([]float64, len(labels)), make([]float64, len(labels))
	for i, label := range labels {
		heights[i] = (float64(len(label.Lines))*lineHeight + labelSpace) * l.Unit
		numbers[i] = (2*numberRadius + numberSpace) * l.Unit
		wanted[i] = label.Place.Y
	}
	for i, centre := range apart(wanted, heights, l.Box[1], l.Box[1]+l.Box[3]) {
		labels[i].Top = centre - (heights[i]-labelSpace*l.Unit)/2
	}
	for i, centre := range apart(wanted, numbers, l.Box[1], l.Box[1]+l.Box[3]) {
		labels[i].NumberY = centre
	}
}

// apart are the centres of intervals of the given lengths in the given order, nearest to those wanted (least squares) so that
// none overlaps, within from and to where there is room for all. Neighbours that would overlap are pooled, as in isotonic
// regression.
func apart(wanted, lengths []float64, from, to float64) []float64 {
	type pool struct {
		first, n int
		start    float64 // where the first interval of the pool begins
		sum      float64 // of the starts wanted
	}
	offset := make([]float64, len(wanted)) // of each interval from the first, were all together
	for i := 1; i < len(wanted); i++ {
		offset[i] = offset[i-1] + lengths[i-1]
	}
	var pools []pool
	for i := range wanted {
		start := wanted[i] - lengths[i]/2 - offset[i]
		pools = append(pools, pool{i, 1, start, start})
		for len(pools) > 1 && pools[len(pools)-2].start > pools[len(pools)-1].start {
			a, b := pools[len(pools)-2], pools[len(pools)-1]
			merged := pool{first: a.first, n: a.n + b.n, sum: a.sum + b.sum}
			merged.start = merged.sum / float64(merged.n)
			pools = append(pools[:len(pools)-2], merged)
		}
	}
	centres := make([]float64, len(wanted))
	if len(wanted) == 0 {
		return centres
	}
	last := len(wanted) - 1
	low, high := from, to-offset[last]-lengths[last]
	if high < low { // no room for all: even on both sides
		low = (low + high) / 2
		high = low
	}
	for _, p := range pools {
		start := min(max(p.start, low), high)
		for i := p.first; i < p.first+p.n; i++ {
			centres[i] = start + offset[i] + lengths[i]/2
		}
	}
	return centres
}

// uncross makes labels change places whose lines cross, and says whether any did.
func uncross(labels []plateLabel) bool {
	for i := range labels {
		for j := i + 1; j < len(labels); j++ {
			if labels[i].crosses(&labels[j]) {
				labels[i], labels[j] = labels[j], labels[i]
				return true
			}
		}
	}
	return false
}

func (a *plateLabel) crosses(b *plateLabel) bool {
	return segmentsCross(a.X, a.Middle(), a.Place.X, a.Place.Y, b.X, b.Middle(), b.Place.X, b.Place.Y)
}

// Middle is the height of a label at which its line begins.
func (a *plateLabel) Middle() float64 {
	return a.Top + a.height()/2
}

// height is that of the text.
func (a *plateLabel) height() float64 { return float64(len(a.Lines)) * lineHeight * a.unit }

// text is the words of a label. It is written without white space between its lines, which would be seen.
func (a *plateLabel) text() string {
	var out strings.Builder
	out.WriteString(`<text font-size="` + figureNumber(labelSize*a.unit) + `" text-anchor="` + a.anchor() + `">`)
	for i, line := range a.Lines {
		out.WriteString(`<tspan x="` + figureNumber(a.textX()) + `" y="` + figureNumber(a.baseline(i)) + `">` + html.EscapeString(line.Name))
		if line.Name != "" && line.Term != "" {
			out.WriteString(" ")
		}
		if line.Term != "" {
			out.WriteString(`<tspan class="term">` + html.EscapeString(line.Term) + `</tspan>`)
		}
		out.WriteString(`</tspan>`)
	}
	return out.String() + `</text>`
}

// segmentsCross says whether two segments cross between their ends.
func segmentsCross(ax, ay, bx, by, cx, cy, dx, dy float64) bool {
	turn := func(px, py, qx, qy, rx, ry float64) float64 { return (qx-px)*(ry-py) - (qy-py)*(rx-px) }
	return turn(ax, ay, bx, by, cx, cy)*turn(ax, ay, bx, by, dx, dy) < 0 &&
		turn(cx, cy, dx, dy, ax, ay)*turn(cx, cy, dx, dy, bx, by) < 0
}

// figureNumber writes a coordinate.
func figureNumber(x float64) string { return strconv.FormatFloat(math.Round(x*100)/100, 'f', -1, 64) }

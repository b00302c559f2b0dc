package builder

import (
	"math"
	"math/rand/v2"
	"slices"

	"revidit/review/diagnosis"
)

// unseen stands for a character that cannot be seen on a specimen.
const unseen = 255

// limits are the lengths (mm) at which a couplet may part them, as somebody with a ruler says them.
var limits = []float64{0.5, 1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 70}

// form is a form of one of the families of the key.
type form struct {
	*diagnosis.Form
	family int // in builder.families
}

// samples are made-up specimens as the reader of the key would describe them, character by character.
type samples struct {
	form    []uint16
	weight  []int64
	usual   []bool    // each character as usual in its form, rightly read: it has to come out rightly
	columns [][]uint8 // by character and sample: a state, a piece of the length, or unseen
}

const (
	// perForm are the specimens of each form at least, spread those that are spread over all forms by weight.
	perForm, spread = 70, 30000
	// evenly is the share of the weights that is given to all families alike, so that rare ones are not lost.
	evenly = 0.25
	// oneUsual is the weight of a usual specimen among those of its form.
	oneUsual = 0.05
	whole    = 1 << 40 // what all weights come to, about
	seedOne  = 0x6b657973
)

// draw makes the specimens. Characters are taken as independent within a form.
func (b *builder) draw() {
	total := 0.0
	for _, w := range b.weights {
		total += w
	}
	dice := rand.New(rand.NewPCG(seedOne, 2))
	b.samples.columns = make([][]uint8, len(b.tables.Characters))
	for f := range b.forms {
		share := b.weights[b.forms[f].family] / total
		share = (1-evenly)*share + evenly/float64(len(b.families))
		share *= b.forms[f].Weight
		b.drawForm(dice, f, share)
	}
}

func (b *builder) drawForm(dice *rand.Rand, f int, share float64) {
	n := perForm + int(spread*share)
	told := make([][]float64, len(b.tables.Characters))
	for c := range told {
		told[c] = b.told(c, b.forms[f].Cells[b.tables.Characters[c].ID])
	}
	each := int64(share * whole / float64(n))
	for i := range n + 1 {
		usual := i == n
		b.samples.form = append(b.samples.form, uint16(f))
		b.samples.usual = append(b.samples.usual, usual)
		if usual {
			each = int64(share * whole * oneUsual)
		}
		b.samples.weight = append(b.samples.weight, each)
		for c := range told {
			seen := uint8(unseen)
			switch {
			case usual:
				seen = b.asUsual(f, c)
			case b.hidden[c] <= dice.Float64():
				seen = pick(dice, told[c])
			}
			b.samples.columns[c] = append(b.samples.columns[c], seen)
		}
	}
}

// asUsual is the usual state of a form, as a place in its column.
func (b *builder) asUsual(f, c int) uint8 {
	seen, ok := usualOf(b.tables, &b.forms[f], &b.tables.Characters[c])
	if !ok {
		return unseen
	}
	return seen
}

// told are the probabilities of what a reader says of a character where a cell is true: Σ_s p(s) · P(said | s). Without a cell they
// are those of the families of the key on average.
func (b *builder) told(c int, cell *diagnosis.Cell) []float64 {
	if cell == nil {
		return b.background(c)
	}
	if cell.P == nil {
		return pieces(cell.Length)
	}
	said := make([]float64, len(cell.P))
	for s, p := range cell.P {
		for t, q := range b.reading[c][s] {
			said[t] += p * q
		}
	}
	return said
}

// background is what is said of a character where nothing is known of a form.
func (b *builder) background(c int) []float64 {
	if b.unknown[c] != nil {
		return b.unknown[c]
	}
	var sum []float64
	for f := range b.forms {
		cell := b.forms[f].Cells[b.tables.Characters[c].ID]
		if cell == nil {
			continue
		}
		said := b.told(c, cell)
		if sum == nil {
			sum = make([]float64, len(said))
		}
		for i, p := range said {
			sum[i] += p * b.weights[b.forms[f].family] * b.forms[f].Weight
		}
	}
	total := 0.0
	for _, p := range sum {
		total += p
	}
	for i := range sum {
		sum[i] /= total
	}
	if sum == nil {
		sum = []float64{1}
	}
	b.unknown[c] = sum
	return sum
}

// measuring widens lengths by what is measured wrongly, in natural logarithms. Assumed, no source.
const measuring = 0.08

// fifth is the distance of the 5th percentile of a normal distribution from its middle, in standard deviations.
const fifth = 1.6448536269514722

// pieces are the probabilities of the pieces between limits of a log-normal length.
func pieces(l diagnosis.Length) []float64 {
	mean := (math.Log(l.Usual[0]) + math.Log(l.Usual[1])) / 2
	sd := math.Hypot((math.Log(l.Usual[1])-math.Log(l.Usual[0]))/2/fifth, measuring)
	below, out := 0.0, make([]float64, len(limits)+1)
	for i, limit := range limits {
		up := 0.5 * math.Erfc(-(math.Log(limit)-mean)/sd/math.Sqrt2)
		out[i], below = up-below, up
	}
	out[len(limits)] = 1 - below
	return out
}

// piece is that of a length in mm.
func piece(mm float64) uint8 {
	at, _ := slices.BinarySearch(limits, mm)
	return uint8(at)
}

func pick(dice *rand.Rand, weights []float64) uint8 {
	total := 0.0
	for _, w := range weights {
		total += w
	}
	u := dice.Float64() * total
	for i, w := range weights {
		if u -= w; u < 0 {
			return uint8(i)
		}
	}
	return uint8(len(weights) - 1)
}

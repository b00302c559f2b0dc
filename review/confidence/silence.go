package confidence

import (
	"math"
	"slices"
)

// Silence is a character that somebody did not mention who told freely what strikes the eye. Values are not missing at
// random (Rubin D.B. 1976, Inference and missing data, Biometrika 63: 581-592): a snout that is there is mentioned, and so
// one that is not mentioned is less likely to be there. The term of a character is, by form,
//
//	Σ_s p(s | form) · Π_j (1 − m_j(s))
//
// with the true state s as everywhere and m_j(s) the probability that observer j mentions it where it is to be seen. Where
// others have reported on the character, both stand in one sum, Σ_s p(s | form) · Π_i P_i(r | s) · Π_j (1 − m_j(s)), and the
// term is that over the sum without the silence: what it adds to what the reports tell.
type Silence struct {
	Character int
	// Unmentioned is, by state, the product of all 1 − m_j(s), from 0 to 1.
	Unmentioned []float64
	// Taught: how often it is mentioned is known from data, so that the bounds of what is assumed do not hold.
	Taught bool
}

// How far silence can move the odds of two forms while it is assumed how often things are mentioned: that of one character by
// 5 decibans, all together by 10. Silences go together: who writes little, writes little of everything.
const (
	mostSilence    = 5.0
	mostOfSilences = 10.0
)

// mostTaught is in decibans how far one silence can move odds whose rate is known from data: nobody forgets less than one time
// in a hundred. Assumed, no source.
const mostTaught = 20.0

// hush is what silences are worth.
type hush struct {
	silences []Silence
	rows     []float64 // by silence and row of its character
	start    []int     // by silence: where its rows begin
	product  []float64 // by form: that of the rows of assumed silences
	taught   []float64 // by form: that of the others
	worth    []float64 // by form: product over the largest, never below what mostOfSilences lets be, times taught; empty without any
}

// of takes silences in, each beside the reports on its character.
func (h *hush) of(m *Model, silences []Silence, reported *arranged) {
	h.silences = append(h.silences[:0], silences...)
	h.rows, h.start, h.worth = h.rows[:0], h.start[:0], h.worth[:0]
	if len(silences) == 0 {
		return
	}
	h.product, h.taught = ones(h.product, m.forms()), ones(h.taught, m.forms())
	for i := range silences {
		c := &m.characters[silences[i].Character]
		h.start = append(h.start, len(h.rows))
		h.rows = slices.Grow(h.rows, c.rows)[:len(h.rows)+c.rows]
		rows := h.rows[h.start[i]:]
		clear(rows)
		c.unmentioned(rows, &silences[i], reported.of(silences[i].Character))
		product := h.productOf(i)
		for f, row := range c.row {
			product[f] *= rows[row]
		}
	}
	h.worth = append(h.worth, h.product...)
	keepWithin(h.worth, mostOfSilences)
	for f, t := range h.taught {
		h.worth[f] *= t
	}
}

// copy makes h what other is, in memory of its own.
func (h *hush) copy(other *hush) {
	h.silences, h.rows, h.start = append(h.silences[:0], other.silences...), append(h.rows[:0], other.rows...), append(h.start[:0], other.start...)
	h.product, h.taught, h.worth = append(h.product[:0], other.product...), append(h.taught[:0], other.taught...), append(h.worth[:0], other.worth...)
}

func ones(x []float64, n int) []float64 {
	x = resized(x, n)
	for i := range x {
		x[i] = 1
	}
	return x
}

// productOf is the product that a silence is part of.
func (h *hush) productOf(i int) []float64 {
	if h.silences[i].Taught {
		return h.taught
	}
	return h.product
}

// part is the worth of the forms from first to before next; empty without any silence.
func (h *hush) part(first, next int) []float64 {
	if len(h.worth) == 0 {
		return nil
	}
	return h.worth[first:next]
}

// without is the worth of all silences but one, over the given memory.
func (h *hush) without(out []float64, m *Model, i int) []float64 {
	out = append(out[:0], h.product...)
	rows, forms, taught := h.rows[h.start[i]:], m.characters[h.silences[i].Character].row, h.silences[i].Taught
	if !taught {
		for f, row := range forms {
			out[f] /= rows[row]
		}
	}
	keepWithin(out, mostOfSilences)
	for f, t := range h.taught {
		out[f] *= t
		if taught {
			out[f] /= rows[forms[f]]
		}
	}
	return out
}

// unmentioned is, by row, what saying nothing of the character is worth beside the reports on it, over the largest.
func (c *compiled) unmentioned(out []float64, silence *Silence, reports []Report) {
	if len(reports) == 0 {
		for s, p := range silence.Unmentioned {
			addScaled(out, c.shownColumns[s*c.rows:], p)
		}
	} else {
		c.besideReports(out, silence.Unmentioned, reports)
	}
	if silence.Taught {
		keepWithin(out, mostTaught)
		return
	}
	keepWithin(out, mostSilence)
}

// besideReports is, by row, the likelihood of reports and silence over that of the reports alone: a mean of the silence over
// what the reports leave of the states.
func (c *compiled) besideReports(out, unmentioned []float64, reports []Report) {
	var room [MaxStates]float64
	told := room[:c.states]
	for s := range told {
		told[s] = 1
	}
	for _, r := range reports {
		c.multiply(told, r)
	}
	alone := make([]float64, c.rows)
	for s, p := range told {
		addScaled(alone, c.shownColumns[s*c.rows:], p)
		addScaled(out, c.shownColumns[s*c.rows:], p*unmentioned[s])
	}
	for i, l := range alone {
		if l < leastLikelihood { // nothing to weigh by
			out[i], l = 1, 1
		}
		out[i] /= l
	}
}

// keepWithin divides by the largest, and lets nothing fall further below it than decibans say.
func keepWithin(x []float64, decibans float64) {
	largest := 0.0
	for _, v := range x {
		largest = max(largest, v)
	}
	if largest == 0 {
		largest = 1
	}
	least := math.Pow(10, -decibans/10)
	for i, v := range x {
		x[i] = max(v/largest, least)
	}
}

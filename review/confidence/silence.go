package confidence

import "math"

// Silence is a character that somebody did not mention who told freely what strikes the eye. Values are not missing at
// random (Rubin D.B. 1976, Inference and missing data, Biometrika 63: 581-592): a snout that is there is mentioned, and so
// one that is not mentioned is less likely to be there. The term of a character is, by form,
//
//	Σ_s p(s | form) · Π_j (1 − m_j(s))
//
// with the true state s as everywhere and m_j(s) the probability that observer j mentions it where it is to be seen.
type Silence struct {
	Character int
	// Unmentioned is, by state, the product of all 1 − m_j(s), from 0 to 1.
	Unmentioned []float64
}

// How far silence can move the odds of two forms: that of one character by 5 decibans, all together by 10. Until a club's own
// data teach how often things are mentioned, the rates are assumed, and silences go together: who writes little, writes little
// of everything.
const (
	mostSilence    = 5.0
	mostOfSilences = 10.0
)

// hush is what silences are worth.
type hush struct {
	silences []Silence
	rows     []float64 // by silence and row of its character
	start    []int     // by silence: where its rows begin
	product  []float64 // by form: that of the rows
	worth    []float64 // by form: the same over the largest, never below what mostOfSilences lets be; empty without any
}

// of takes silences in.
func (h *hush) of(m *Model, silences []Silence) {
	h.silences = append(h.silences[:0], silences...)
	h.rows, h.start, h.worth = h.rows[:0], h.start[:0], h.worth[:0]
	if len(silences) == 0 {
		return
	}
	h.product = resized(h.product, m.forms())
	for f := range h.product {
		h.product[f] = 1
	}
	for i := range silences {
		c := &m.characters[silences[i].Character]
		h.start = append(h.start, len(h.rows))
		for range c.rows {
			h.rows = append(h.rows, 0)
		}
		rows := h.rows[h.start[i]:]
		c.unmentioned(rows, silences[i].Unmentioned)
		for f, row := range c.row {
			h.product[f] *= rows[row]
		}
	}
	h.worth = append(h.worth, h.product...)
	keepWithin(h.worth, mostOfSilences)
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
	rows := h.rows[h.start[i]:]
	for f, row := range m.characters[h.silences[i].Character].row {
		out[f] /= rows[row]
	}
	keepWithin(out, mostOfSilences)
	return out
}

// unmentioned is, by row, the probability of saying nothing of the character, over the largest.
func (c *compiled) unmentioned(out, unmentioned []float64) {
	for s, p := range unmentioned {
		addScaled(out, c.shownColumns[s*c.rows:], p)
	}
	keepWithin(out, mostSilence)
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

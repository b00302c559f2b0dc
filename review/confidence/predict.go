package confidence

import (
	"math"
	"slices"
)

// State is the distribution of the true state of a character given the reports about all other characters: what one
// would expect to see before anybody looks. It has one probability for each state, summing to 1. Reports about the
// character itself take no part, so that they can be held against it without counting twice.
func (p *Posterior) State(character int) []float64 {
	c := &p.model.characters[character]
	states := make([]float64, c.states)
	for f, w := range p.formsWithout(character) {
		addScaled(states, c.cells[c.at(f):], w)
	}
	total := sum(states)
	for s := range states {
		states[s] /= total
	}
	return states
}

// formsWithout are P(hypothesis, form | all reports but those about one character), by form.
func (p *Posterior) formsWithout(character int) []float64 {
	m := p.model
	w := weighing{seen: p.Seen, start: p.weighing.start, lik: p.weighing.lik, exponents: make([]float64, len(p.Seen)),
		ready: make([]bool, len(p.Seen)), hush: p.weighing.hush}
	without := slices.Index(p.Seen, character)
	m.fillExponents(w.exponents, p.Seen, without)
	if without >= 0 {
		w.exponents[without] = 0
	}
	if !w.adjust(m, &p.weighing) {
		w.multiply(m, p.sex)
	}
	shares, hypotheses := make([]float64, m.forms()), make([]float64, m.Hypotheses())
	w.logLikelihoods(m, hypotheses, shares)
	for h := range hypotheses {
		hypotheses[h] += p.LogPrior[h]
	}
	toProbabilities(hypotheses)
	for h, prob := range hypotheses {
		for f := m.first[h]; f < m.first[h+1]; f++ {
			shares[f] *= prob
		}
	}
	return shares
}

// adjust makes the product from that of other exponents, by those factors alone that differ: few do where one character
// is left out. It is false where the other product went into logarithms, or is too small to be divided.
func (w *weighing) adjust(m *Model, from *weighing) bool {
	if len(from.logs) > 0 || smallest(from.product) < smallProduct {
		return false
	}
	w.product = append(w.product[:0], from.product...)
	for i, e := range w.exponents {
		change := e - from.exponents[i]
		if change == 0 {
			continue
		}
		factors := w.likelihood(m, i)
		w.raised = resized(w.raised, len(factors))
		for k, l := range factors {
			if change == -1 {
				w.raised[k] = 1 / l
			} else {
				w.raised[k] = math.Exp(change * ln(l))
			}
		}
		for f, row := range m.characters[w.seen[i]].row[:len(w.product)] {
			w.product[f] *= w.raised[row]
		}
	}
	return true
}

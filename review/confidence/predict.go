package confidence

import "slices"

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
	w := weighing{seen: p.Seen, start: p.weighing.start, lik: p.weighing.lik, exponents: make([]float64, len(p.Seen))}
	without := slices.Index(p.Seen, character)
	m.fillExponents(w.exponents, p.Seen, without)
	if without >= 0 {
		w.exponents[without] = 0
	}
	w.multiply(m, p.sex)
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

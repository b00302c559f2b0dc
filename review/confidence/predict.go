package confidence

// State is the distribution of the true state of a character given the reports about all other characters: what one
// would expect to see before anybody looks. It has one probability for each state, summing to 1. Reports about the
// character itself take no part, so that they can be held against it without counting twice.
func (p *Posterior) State(character int) []float64 {
	c := &p.model.characters[character]
	weights := p.formsWithout(character)
	states := make([]float64, c.states)
	for f, w := range weights {
		for s, cell := range c.cells[f*c.states : (f+1)*c.states] {
			states[s] += w * cell
		}
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
	without := -1
	for i, c := range p.Seen {
		if c == character {
			without = i
		}
	}
	exponents := make([]float64, len(p.Seen))
	m.fillExponents(exponents, p.Seen, without)
	if without >= 0 {
		exponents[without] = 0
	}
	weights := make([]float64, m.forms())
	for h := range p.P {
		for f := m.first[h]; f < m.first[h+1]; f++ {
			weights[f] = p.LogPrior[h] + p.logForm(f, exponents)
		}
	}
	toProbabilities(weights)
	return weights
}

package confidence

// Forms are the probabilities of the forms of a hypothesis, given that it is true and given the reports, in their order;
// they sum to 1, and a form of the other sex has 0. "None of those listed" has one form. The slice is the posterior's own.
func (p *Posterior) Forms(hypothesis int) []float64 {
	return p.shares[p.model.first[hypothesis]:p.model.first[hypothesis+1]]
}

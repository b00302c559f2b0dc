package confidence

import "math"

// Decibans converts a natural logarithm of odds: 10 decibans are a factor of ten.
const decibans = 10 / math.Ln10

// Decibans returns a natural logarithm of odds or of a likelihood ratio in decibans, 10 · log10 of it.
func Decibans(log float64) float64 { return log * decibans }

// Weights explain the log odds of one hypothesis against another, all in decibans. Prior + Σ Characters + Together =
// Total.
type Weights struct {
	Prior float64
	// Characters, in the order of Posterior.Seen: the log odds with the character minus the log odds without it.
	Characters []float64
	// Together is what the characters say jointly beyond each by itself: forms that several of them point to, and
	// characters that depend on each other.
	Together float64
	// Total is the log odds of the two.
	Total float64
}

// Why weighs each character for a hypothesis and against a rival (Good 1950, Probability and the Weighing of Evidence).
func (p *Posterior) Why(hypothesis, rival int) Weights {
	w := Weights{
		Prior:      Decibans(p.LogPrior[hypothesis] - p.LogPrior[rival]),
		Characters: make([]float64, len(p.Seen)),
	}
	likelihoodRatio := Decibans(p.LogLikelihood[hypothesis] - p.LogLikelihood[rival])
	w.Total = w.Prior + likelihoodRatio
	w.Together = likelihoodRatio
	exponents := make([]float64, len(p.Seen))
	for i := range p.Seen {
		p.model.fillExponents(exponents, p.Seen, i)
		exponents[i] = 0
		without := Decibans(p.logLikelihood(hypothesis, exponents) - p.logLikelihood(rival, exponents))
		w.Characters[i] = likelihoodRatio - without
		w.Together -= w.Characters[i]
	}
	return w
}

// Rival is the most probable hypothesis besides the given one.
func (p *Posterior) Rival(hypothesis int) int {
	best := -1
	for h, v := range p.P {
		if h != hypothesis && (best < 0 || v > p.P[best]) {
			best = h
		}
	}
	return best
}

func (p *Posterior) logLikelihood(hypothesis int, exponents []float64) float64 {
	m := p.model
	forms := make([]float64, 0, 16)
	for f := m.first[hypothesis]; f < m.first[hypothesis+1]; f++ {
		forms = append(forms, p.logForm(f, exponents))
	}
	return logSumExp(forms)
}

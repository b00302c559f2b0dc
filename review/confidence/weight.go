package confidence

import "math"

// decibans converts a natural logarithm of odds: 10 decibans are a factor of ten.
const decibans = 10 / math.Ln10

// Decibans returns a natural logarithm of odds or of a likelihood ratio in decibans, 10 · log10 of it.
func Decibans(log float64) float64 { return log * decibans }

// Weights explain the log odds of one hypothesis against another, all in decibans. Prior + Σ Characters + Σ
// Silences + Together = Total.
type Weights struct {
	Prior float64
	// Characters, in the order of Posterior.Seen: the log odds with the character minus the log odds without it.
	Characters []float64
	// Silences, in the order of Posterior.Silences: the same of what was not mentioned, beside the reports of others on it.
	Silences []float64
	// Together is what the characters say jointly beyond each by itself: forms that several of them point to, and
	// characters that depend on each other.
	Together float64
	// Total is the log odds of the two.
	Total float64
}

// Why weighs each character for a hypothesis and against a rival (Good 1950, Probability and the Weighing of Evidence).
func (p *Posterior) Why(hypothesis, rival int) Weights {
	var w Weights
	p.FillWhy(&w, hypothesis, rival)
	return w
}

// FillWhy is Why into w, whose memory it uses again.
func (p *Posterior) FillWhy(w *Weights, hypothesis, rival int) {
	s := p.model.borrow()
	defer p.model.giveBack(s)
	likelihoodRatio := Decibans(p.LogLikelihood[hypothesis] - p.LogLikelihood[rival])
	w.Prior = Decibans(p.LogPrior[hypothesis] - p.LogPrior[rival])
	w.Total = w.Prior + likelihoodRatio
	w.Together = likelihoodRatio
	w.Characters = resized(w.Characters, len(p.Seen))
	clear(w.Characters)
	w.Silences = resized(w.Silences, len(p.Silences()))
	clear(w.Silences)
	p.subtractWithout(s, hypothesis, w, 1)
	p.subtractWithout(s, rival, w, -1)
	for _, weights := range [][]float64{w.Characters, w.Silences} {
		for i, without := range weights {
			weights[i] = likelihoodRatio + Decibans(without)
			w.Together -= weights[i]
		}
	}
}

// subtractWithout subtracts, by seen character and by silence, sign times the log likelihood of a hypothesis without that character. It
// knows the logarithms for each form and changes only what the exponents of the others do, too.
func (p *Posterior) subtractWithout(s *scratch, hypothesis int, out *Weights, sign float64) {
	m, seen, exponents := p.model, p.Seen, p.weighing.exponents
	first, next := m.first[hypothesis], m.first[hypothesis+1]
	n := next - first
	s.logs, s.totals, s.exponents = resized(s.logs, n*len(seen)), resized(s.totals, 2*n), resized(s.exponents, len(seen))
	whole, without := s.totals[:n], s.totals[n:]
	copy(whole, m.logWeight[p.sex][first:next])
	for i, c := range seen {
		likelihood := p.weighing.likelihood(m, i)
		for f, row := range m.characters[c].row[first:next] {
			s.logs[i*n+f] = ln(likelihood[row])
		}
		addScaled(whole, s.logs[i*n:], exponents[i])
	}
	h := &p.weighing.hush
	for f, worth := range h.part(first, next) {
		whole[f] += ln(worth)
	}
	for i := range seen {
		m.fillExponents(s.exponents, seen, i)
		s.exponents[i] = 0
		copy(without, whole)
		for k, e := range s.exponents {
			if e != exponents[k] {
				addScaled(without, s.logs[k*n:], e-exponents[k])
			}
		}
		out.Characters[i] -= sign * logSumExp(without)
	}
	for i := range h.silences {
		s.others = h.without(s.others, m, i)
		others := s.others[first:next]
		for f, worth := range h.part(first, next) {
			without[f] = whole[f] - ln(worth) + ln(others[f])
		}
		out.Silences[i] -= sign * logSumExp(without)
	}
}

// clearly is how many times as probable a rival must be to count as more probable: less is the last digits of a sum,
// which another processor may have otherwise.
const clearly = 1 + 1e-9

// Rival is the most probable hypothesis besides the given one, and the first of those that are equally probable.
func (p *Posterior) Rival(hypothesis int) int {
	best := -1
	for h, v := range p.P {
		if h != hypothesis && (best < 0 || v > p.P[best]*clearly) {
			best = h
		}
	}
	return best
}

package confidence

import (
	"fmt"
	"math"
)

// floor keeps probabilities away from 0 and 1: no evidence of this sort is that certain. It is far below anything that
// the assumptions on people and tables support.
const floor = 1e-12

// leastLikelihood stands in for a likelihood of 0, which only a model without any table or reading error can give.
const leastLikelihood = 1e-200

// Posterior is the result of Model.Posterior. It is read-only and safe for concurrent use.
type Posterior struct {
	// P are the probabilities of the hypotheses, "none of those listed" last; they sum to 1, none is 0 or 1.
	P []float64
	// LogLikelihood are the natural logarithms of P(reports | hypothesis), without the prior.
	LogLikelihood []float64
	// LogPrior are the natural logarithms of the priors, which sum to 1.
	LogPrior []float64
	// Seen are the reported characters, ascending.
	Seen []int

	model     *Model
	sex       Sex
	formLog   []float64 // log w(g) + Σ_c e(c) · log likelihood, by form
	lik       []float64 // likelihood without the exponent: row i of Seen over all forms
	exponents []float64 // by Seen
}

// Posterior weighs the observations. prior replaces the weights of the spec's hypotheses where it is not nil (one above
// 0 for each, "none of those listed" left out). Observations may come in any order, and none is needed. It panics where
// an index or the length of prior is out of range: callers check names before they have indices.
func (m *Model) Posterior(observations []Observation, sex Sex, prior []float64) *Posterior {
	if prior == nil {
		prior = m.prior
	}
	if len(prior) != len(m.prior) {
		panic(fmt.Sprintf("confidence: %d prior weights for %d hypotheses", len(prior), len(m.prior)))
	}
	p := m.newPosterior(observations, sex)
	for i, c := range p.Seen {
		m.weigh(observations, c, p.lik[i*m.forms():(i+1)*m.forms()])
	}
	for f := range p.formLog {
		p.formLog[f] = p.logForm(f, p.exponents)
	}
	m.fillLogPrior(p.LogPrior, prior)
	for h := range p.P {
		p.LogLikelihood[h] = logSumExp(p.formLog[m.first[h]:m.first[h+1]])
		p.P[h] = p.LogPrior[h] + p.LogLikelihood[h]
	}
	toProbabilities(p.P)
	return p
}

// newPosterior makes a result whose numbers share one allocation.
func (m *Model) newPosterior(observations []Observation, sex Sex) *Posterior {
	seen := m.seen(observations)
	h, f, n := m.Hypotheses(), m.forms(), len(seen)
	numbers := make([]float64, 3*h+f+n*f+n)
	take := func(size int) []float64 {
		part := numbers[:size:size]
		numbers = numbers[size:]
		return part
	}
	p := &Posterior{P: take(h), LogLikelihood: take(h), LogPrior: take(h), Seen: seen, model: m, sex: sex,
		formLog: take(f), lik: take(n * f), exponents: take(n)}
	m.fillExponents(p.exponents, seen, -1)
	return p
}

// seen lists the characters with at least one report, ascending: a fixed order makes the sums the same whatever the
// order of the evidence.
func (m *Model) seen(observations []Observation) []int {
	reported := func(c int) bool {
		for _, o := range observations {
			if o.Character == c && len(o.Reports) > 0 {
				return true
			}
		}
		return false
	}
	seen := make([]int, 0, len(observations))
	for c := range m.characters {
		if reported(c) {
			seen = append(seen, c)
		}
	}
	return seen
}

// smallProduct is when a product of likelihoods is put into logarithms, long before it would vanish: a logarithm for
// each factor takes most of the time of an assessment.
const smallProduct = 1e-100

// logForm is log [w(g) · Π_c likelihood^exponent] of a form.
func (p *Posterior) logForm(form int, exponents []float64) float64 {
	n := p.model.forms()
	log, product := p.model.logWeight[p.sex][form], 1.0
	for i, e := range exponents {
		l := p.lik[i*n+form]
		if e != 1 {
			log += e * math.Log(l)
			continue
		}
		product *= l
		if product < smallProduct {
			log += math.Log(product)
			product = 1
		}
	}
	return log + math.Log(product)
}

// weigh fills the likelihood of all reports about one character, by form.
func (m *Model) weigh(observations []Observation, character int, out []float64) {
	c := &m.characters[character]
	var product, likelihood [MaxStates]float64
	for s := range c.states {
		product[s] = 1
		for i := range observations {
			if observations[i].Character != character {
				continue
			}
			for _, r := range observations[i].Reports {
				product[s] *= c.probability(r, s)
			}
		}
	}
	c.share(likelihood[:c.states], product[:c.states], m.shared)
	for f := range out {
		sum := 0.0
		row := c.cells[f*c.states : (f+1)*c.states]
		for s, p := range row {
			sum += p * likelihood[s]
		}
		out[f] = max(sum, leastLikelihood)
	}
}

// fillExponents sets the exponent of each seen character, as if the one at index without were not there.
func (m *Model) fillExponents(exponents []float64, seen []int, without int) {
	for i := range exponents {
		exponents[i] = 1
	}
	for _, d := range m.dependent {
		members := 0
		for i, c := range seen {
			if i != without && contains(d.Characters, c) {
				members++
			}
		}
		if members < 2 {
			continue
		}
		for i, c := range seen {
			if contains(d.Characters, c) {
				exponents[i] = min(exponents[i], d.Exponent)
			}
		}
	}
}

func contains(list []int, c int) bool {
	for _, other := range list {
		if other == c {
			return true
		}
	}
	return false
}

func (m *Model) fillLogPrior(out, weights []float64) {
	sum := 0.0
	for _, w := range weights {
		sum += w
	}
	for h, w := range weights {
		out[h] = math.Log((1 - m.none) * w / sum)
	}
	out[m.None()] = math.Log(m.none)
}

// logSumExp is log Σ exp(x), and −Inf where all are.
func logSumExp(x []float64) float64 {
	largest := math.Inf(-1)
	for _, v := range x {
		largest = max(largest, v)
	}
	if math.IsInf(largest, -1) {
		return largest
	}
	sum := 0.0
	for _, v := range x {
		sum += math.Exp(v - largest)
	}
	return largest + math.Log(sum)
}

// toProbabilities turns logarithms into probabilities in place.
func toProbabilities(x []float64) {
	total := logSumExp(x)
	sum := 0.0
	for i := range x {
		x[i] = max(math.Exp(x[i]-total), floor)
		sum += x[i]
	}
	for i := range x {
		x[i] = min(x[i]/sum, 1-floor)
	}
}

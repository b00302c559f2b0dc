package confidence

import (
	"fmt"
	"math"
)

// floor keeps probabilities away from 0 and 1: no evidence of this sort is that certain. It is far below anything that
// the assumptions on people and tables support.
const floor = 1e-12

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

	model    *Model
	sex      Sex
	weighing weighing
	shares   []float64 // P(form | hypothesis, reports), by form
	prior    []float64
	complete bool // LogLikelihood and shares are filled in
}

// Posterior weighs the observations. prior replaces the weights of the spec's hypotheses where it is not nil (one above
// 0 for each, "none of those listed" left out). Observations may come in any order, and none is needed. It panics where
// an index or the length of prior is out of range: callers check names before they have indices.
func (m *Model) Posterior(observations []Observation, sex Sex, prior []float64) *Posterior {
	p := &Posterior{}
	m.FillPosterior(p, observations, sex, prior)
	return p
}

// FillPosterior is Posterior into p, whose memory it uses again: what p was before is lost, its slices included.
func (m *Model) FillPosterior(p *Posterior, observations []Observation, sex Sex, prior []float64) {
	m.FillPosteriorOf(p, Evidence{Observations: observations, Sex: sex, Prior: prior})
}

// Evidence is all that is known of a specimen. Sex and Prior are as in Posterior.
type Evidence struct {
	Observations []Observation
	// Silences are of characters, each at most once; those who report on one are others than those who were silent.
	Silences []Silence
	Sex      Sex
	Prior    []float64
}

// FillPosteriorOf is FillPosterior of all there is.
func (m *Model) FillPosteriorOf(p *Posterior, e Evidence) {
	m.FillChancesOf(p, e)
	p.Complete()
}

// FillChancesOf is FillPosteriorOf for who may need no more than P and Seen: LogLikelihood is empty, and Forms and FillWhy are not to be
// asked, until Complete.
func (m *Model) FillChancesOf(p *Posterior, e Evidence) {
	m.checkPrior(e.Prior)
	s := m.borrow()
	defer m.giveBack(s)
	p.model, p.sex = m, e.Sex
	w := &p.weighing
	m.weigh(w, &s.arranged, e.Observations)
	w.hush.of(m, e.Silences, &s.arranged)
	p.fillPrior(e.Prior)
	p.fillChances()
}

// fillChances fills in what follows from what was weighed and from the prior, and logarithms where probabilities need them.
func (p *Posterior) fillChances() {
	m, w := p.model, &p.weighing
	w.multiply(m, p.sex)
	p.P, p.LogLikelihood, p.shares, p.complete = resized(p.P, m.Hypotheses()), p.LogLikelihood[:0], p.shares[:0], false
	p.Seen = w.seen
	total, plain := w.sums(m, p.P, p.prior)
	if !plain {
		p.Complete()
	}
	finish(p.P, p.prior, p.LogPrior, p.LogLikelihood, total, plain)
}

// Complete fills in what FillChancesOf has left out.
func (p *Posterior) Complete() {
	if p.complete {
		return
	}
	m := p.model
	p.LogLikelihood, p.shares, p.complete = resized(p.LogLikelihood, m.Hypotheses()), resized(p.shares, m.forms()), true
	p.weighing.logLikelihoods(m, p.LogLikelihood, p.shares)
}

// Silences are those that it weighed.
func (p *Posterior) Silences() []Silence { return p.weighing.hush.silences }

// Probabilities fills in the probabilities of the hypotheses alone, those of Posterior: out must have as many elements as
// there are Hypotheses. It is safe for concurrent use, allocates nothing once its memory has grown to the size of the
// evidence, and panics where Posterior does.
func (m *Model) Probabilities(observations []Observation, sex Sex, prior, out []float64) {
	m.checkPrior(prior)
	if len(out) != m.Hypotheses() {
		panic(fmt.Sprintf("confidence: room for %d probabilities of %d hypotheses", len(out), m.Hypotheses()))
	}
	s := m.borrow()
	defer m.giveBack(s)
	priors := m.prior
	if prior != nil {
		s.prior = resized(s.prior, len(out))
		priors = s.prior
		m.fillPrior(priors, prior)
	}
	w := &s.weighing
	m.weigh(w, &s.arranged, observations)
	w.multiply(m, sex)
	total, plain := w.sums(m, out, priors)
	if plain {
		finish(out, priors, nil, nil, total, plain)
		return
	}
	s.logs, s.totals = resized(s.logs, len(out)), resized(s.totals, len(out))
	w.logLikelihoods(m, s.logs, nil)
	fillLogarithms(s.totals, priors)
	finish(out, priors, s.totals, s.logs, total, plain)
}

func (m *Model) checkPrior(prior []float64) {
	if prior != nil && len(prior) != m.None() {
		panic(fmt.Sprintf("confidence: %d prior weights for %d hypotheses", len(prior), m.None()))
	}
}

func (p *Posterior) fillPrior(weights []float64) {
	m := p.model
	p.prior, p.LogPrior = append(p.prior[:0], m.prior...), append(p.LogPrior[:0], m.logPrior...)
	if weights != nil {
		m.fillPrior(p.prior, weights)
		fillLogarithms(p.LogPrior, p.prior)
	}
}

func fillLogarithms(out, x []float64) {
	for i, v := range x {
		out[i] = ln(v)
	}
}

// finish makes probabilities: in plain arithmetic of likelihoods in out, whose weighted total is given, else of logarithms.
func finish(out, prior, logPrior, logLikelihood []float64, total float64, plain bool) {
	if !plain {
		for h := range out {
			out[h] = logPrior[h] + logLikelihood[h]
		}
		toProbabilities(out)
		return
	}
	for h, likelihood := range out {
		out[h] = prior[h] * likelihood / total
	}
	keepOff(out)
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
	for i := range x {
		x[i] = math.Exp(x[i] - total)
	}
	keepOff(x)
}

// keepOff keeps probabilities off 0 and 1.
func keepOff(p []float64) {
	sum := 0.0
	for i := range p {
		if p[i] < floor {
			p[i] = floor
		}
		sum += p[i]
	}
	for i := range p {
		p[i] /= sum
		if p[i] > 1-floor {
			p[i] = 1 - floor
		}
	}
}

func sum(x []float64) float64 {
	total := 0.0
	for _, v := range x {
		total += v
	}
	return total
}

package confidence

import (
	"math"
	"math/rand/v2"
	"slices"
	"sync"
)

// Looks says how far one look at each character tells two hypotheses apart: for every form, what a person of given
// accuracy would report about a specimen of it, with the errors of tables and photos that the model reckons with. "None
// of those listed" takes no part, sex is not known, and two hypotheses that are compared are equally probable before.
//
// A report on a character is worth what it is worth to Posterior, except for silent ones, which nobody can state and
// which tell nothing. Looks is read-only and safe for concurrent use.
type Looks struct {
	model    *Model
	reader   int
	accuracy []float64
	reports  [][]float64 // by character: P(report | row), row i from i*states
	silent   [][]bool    // by character and report; nil where all can be stated
	// What only whole comparisons need, made when one is first asked for.
	prepared sync.Once
	logs     [][]float64         // of reports; 0 for silent ones
	roots    []map[float64]roots // by character and exponent
}

// roots are P(r | form)^(1−e/2) and P(r | form)^(e/2), of which a bound is made: their product over two forms, summed
// over the reports, is E[(likelihood ratio)^(e/2)] of a character that counts with exponent e.
type roots struct{ own, other []float64 }

// Looks returns what a reader of the given accuracy (one value for each character) would report. silent lists, by
// character, the reports that cannot be stated; it may be nil.
func (m *Model) Looks(reader int, accuracy []float64, silent map[int][]int) *Looks {
	l := &Looks{model: m, reader: reader, accuracy: accuracy}
	for c := range m.characters {
		character := &m.characters[c]
		l.reports = append(l.reports, character.reports(reader, unit(accuracy[c])))
		l.silent = append(l.silent, muted(character.states, silent[c]))
	}
	return l
}

func (l *Looks) prepare() {
	for c, reports := range l.reports {
		l.logs = append(l.logs, logarithms(reports, l.silent[c]))
		l.roots = append(l.roots, map[float64]roots{})
		for _, e := range l.model.exponentsOf(c) {
			l.roots[c][e] = rootsOf(reports, l.silent[c], e)
		}
	}
}

func muted(states int, silent []int) []bool {
	if len(silent) == 0 {
		return nil
	}
	mute := make([]bool, states)
	for _, r := range silent {
		mute[r] = true
	}
	return mute
}

func logarithms(reports []float64, mute []bool) []float64 {
	logs := make([]float64, len(reports))
	for i, p := range reports {
		if mute == nil || !mute[i%len(mute)] {
			logs[i] = math.Log(max(p, leastLikelihood))
		}
	}
	return logs
}

func rootsOf(reports []float64, mute []bool, exponent float64) roots {
	r := roots{make([]float64, len(reports)), make([]float64, len(reports))}
	for i, p := range reports {
		r.own[i], r.other[i] = math.Pow(p, 1-exponent/2), math.Pow(p, exponent/2)
		if mute != nil && mute[i%len(mute)] {
			r.own[i], r.other[i] = p, 1
		}
	}
	return r
}

// exponentsOf are those that a character can count with.
func (m *Model) exponentsOf(character int) []float64 {
	list := []float64{1}
	for _, d := range m.dependent {
		if contains(d.Characters, character) && !slices.Contains(list, d.Exponent) {
			list = append(list, d.Exponent)
		}
	}
	return list
}

// Bits is the information about which of two hypotheses it is, in bits, that a look at one character is expected to
// give: the mutual information of hypothesis and report (Shannon 1948), from 0 to 1.
func (l *Looks) Bits(character, a, b int) float64 {
	return l.bits(character, l.reportsOf(character, a), l.reportsOf(character, b))
}

// Sharpened is Bits if both hypotheses kept more to their commoner states: each probability of each form squared, and
// all divided by their sum. "Twice as common" becomes "four times".
func (l *Looks) Sharpened(character, a, b int) float64 {
	return l.bits(character, l.sharpened(character, a), l.sharpened(character, b))
}

func (l *Looks) bits(character int, p, q []float64) float64 {
	total := 0.0
	for r := range p {
		if mute := l.silent[character]; mute != nil && mute[r] {
			continue
		}
		total += plogp(p[r])/2 + plogp(q[r])/2 - plogp((p[r]+q[r])/2)
	}
	return max(total, 0) / math.Ln2
}

// reportsOf is P(report | hypothesis), over its forms by weight.
func (l *Looks) reportsOf(character, hypothesis int) []float64 {
	m := l.model
	k := m.characters[character].states
	out := make([]float64, k)
	for f := m.first[hypothesis]; f < m.first[hypothesis+1]; f++ {
		w := math.Exp(m.logWeight[AnySex][f])
		addScaled(out, l.reports[character][m.characters[character].at(f):], w)
	}
	return out
}

func (l *Looks) sharpened(character, hypothesis int) []float64 {
	m := l.model
	c := &m.characters[character]
	states := make([]float64, c.states)
	for f := m.first[hypothesis]; f < m.first[hypothesis+1]; f++ {
		row := slices.Clone(c.cells[c.at(f):][:c.states])
		for s, p := range row {
			row[s] = p * p
		}
		normalise(row)
		w := math.Exp(m.logWeight[AnySex][f])
		addScaled(states, row, w)
	}
	return l.reported(character, states)
}

// reported is P(report) where the states have the given probabilities.
func (l *Looks) reported(character int, states []float64) []float64 {
	c := &l.model.characters[character]
	switch {
	case c.kind == Length:
		return c.misled(states)
	case c.states == 1:
		return []float64{1}
	}
	out := make([]float64, c.states)
	c.told(out, c.appearance(states), c.reading(l.reader), unit(l.accuracy[character]))
	return out
}

// ErrorBound is at least 1 − Expected, without a draw. For x = L(b)/L(a) the probability of the wrong hypothesis
// x/(1+x) is at most √x/2; L(a) is at least the part of the form that the specimen is of, and the root of a sum over the
// forms of b at most the sum of their roots. So for a specimen of form g of a
//
//	error ≤ ½ · Σ_h √(w(h)/w(g)) · Π_c E[(P_h(r)/P_g(r))^(e(c)/2)]
//
// and never more than 1. With one form each and exponents of 1 the product is the coefficient of Bhattacharyya (1943).
func (l *Looks) ErrorBound(a, b int, characters []int) float64 {
	l.prepared.Do(l.prepare)
	exponents := make([]float64, len(characters))
	l.model.fillExponents(exponents, characters, -1)
	return (l.errorBound(a, b, characters, exponents) + l.errorBound(b, a, characters, exponents)) / 2
}

func (l *Looks) errorBound(a, b int, characters []int, exponents []float64) float64 {
	m := l.model
	weights := m.logWeight[AnySex]
	total := 0.0
	for g := m.first[a]; g < m.first[a+1]; g++ {
		sum := 0.0
		for h := m.first[b]; h < m.first[b+1]; h++ {
			product := math.Exp((weights[h] - weights[g]) / 2)
			for i, c := range characters {
				character := &m.characters[c]
				root := l.roots[c][exponents[i]]
				product *= dot(root.own[character.at(g):][:character.states], root.other[character.at(h):])
			}
			sum += product
		}
		total += math.Exp(weights[g]) * min(sum/2, 1)
	}
	return total
}

func dot(a, b []float64) float64 {
	total := 0.0
	for i, v := range a {
		total += v * b[i]
	}
	return total
}

// Specimens are made-up ones of one hypothesis, each with a report on every character.
type Specimens struct {
	hypothesis int
	reports    []uint8 // specimen n has those from n times the number of characters
}

// Draw makes n specimens of a hypothesis: a form by weight, and within it each report by itself.
func (l *Looks) Draw(hypothesis, n int, random *rand.Rand) *Specimens {
	m := l.model
	s := &Specimens{hypothesis: hypothesis, reports: make([]uint8, 0, n*len(m.characters))}
	first, next := m.first[hypothesis], m.first[hypothesis+1]
	weights := make([]float64, next-first)
	for i := range weights {
		weights[i] = math.Exp(m.logWeight[AnySex][first+i])
	}
	for range n {
		form := first + pick(random, weights)
		for c := range m.characters {
			character := &m.characters[c]
			s.reports = append(s.reports, uint8(pick(random, l.reports[c][character.at(form):][:character.states])))
		}
	}
	return s
}

// pick draws an index by probabilities that sum to 1.
func pick(random *rand.Rand, p []float64) int {
	x := random.Float64()
	for i, v := range p {
		if x -= v; x < 0 {
			return i
		}
	}
	return len(p) - 1
}

// Estimate is a mean with its standard error.
type Estimate struct{ Mean, Error float64 }

// Expected is the expected posterior probability of the true one of two hypotheses after one look at all the given
// characters (ascending), averaged over the specimens of both, which are equally probable before. It is 1/2 where
// nothing tells them apart and near 1 where much does. n limits how many of the specimens of each are used.
func (l *Looks) Expected(a, b *Specimens, characters []int, n int) Estimate {
	l.prepared.Do(l.prepare)
	exponents := make([]float64, len(characters))
	l.model.fillExponents(exponents, characters, -1)
	one, two := l.expected(a, b.hypothesis, characters, exponents, n), l.expected(b, a.hypothesis, characters, exponents, n)
	return Estimate{(one.Mean + two.Mean) / 2, math.Hypot(one.Error, two.Error) / 2}
}

func (l *Looks) expected(s *Specimens, rival int, characters []int, exponents []float64, n int) Estimate {
	width := len(l.model.characters)
	n = min(n, len(s.reports)/width)
	sum, squares := 0.0, 0.0
	for i := range n {
		reports := s.reports[i*width : (i+1)*width]
		odds := l.logLikelihood(rival, reports, characters, exponents) - l.logLikelihood(s.hypothesis, reports, characters, exponents)
		p := 1 / (1 + math.Exp(odds))
		sum += p
		squares += p * p
	}
	mean := sum / float64(n)
	return Estimate{mean, math.Sqrt(max(squares/float64(n)-mean*mean, 0) / float64(n))}
}

// logLikelihood of reports on characters, as Posterior has it.
func (l *Looks) logLikelihood(hypothesis int, reports []uint8, characters []int, exponents []float64) float64 {
	m := l.model
	var room [32]float64
	forms := room[:0]
	for f := m.first[hypothesis]; f < m.first[hypothesis+1]; f++ {
		log := m.logWeight[AnySex][f]
		for i, c := range characters {
			log += exponents[i] * l.logs[c][m.characters[c].at(f)+int(reports[c])]
		}
		forms = append(forms, log)
	}
	return logSumExp(forms)
}

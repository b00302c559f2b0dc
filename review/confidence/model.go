package confidence

import (
	"fmt"
	"math"
	"slices"
)

// Kind says how reports about a character go wrong.
type Kind int

const (
	// Nominal states have no order; errors follow Character.Confused.
	Nominal Kind = iota
	// Count states are whole numbers in order; errors go one step.
	Count
	// Length states are the bins of a Scale; errors are those of measuring.
	Length
)

// MaxStates is the most states that a character can have.
const MaxStates = 128

// Character is one character, by its states 0 to States-1.
type Character struct {
	Kind   Kind
	States int // 1 to MaxStates; for Length the bins of the scale
	// Confused are Nominal states with what they are taken for; every other pair has weight 1.
	Confused []Confused
	// Ease is, by reader and state, how much more easily the state is read right than an ordinary one: a ratio of odds,
	// above 0. nil where all are ordinary ones; a length has none. Readers are those of Spec.Readers.
	Ease [][]float64
	// Striking says by state which are striking; nil where none is, or all are.
	Striking []bool
	// Step is the width of one bin in natural logarithms; Length only.
	Step float64
}

// Confused is an error that is made in one direction: From is true and To is read, with a weight above 0 among the errors
// at From. A striking state is hardly ever imagined: what is not striking has a small weight towards it.
type Confused struct {
	From, To int
	Weight   float64
}

// Sex selects forms.
type Sex int

const (
	AnySex Sex = iota
	Male
	Female
)

// Hypothesis is a mixture of forms with an unnormalised prior weight above 0.
type Hypothesis struct {
	Prior float64
	Forms []Form
}

// Form is a part of a hypothesis. Cells has one distribution for each character, summing to 1; nil where nothing is known.
type Form struct {
	Weight float64 // within the hypothesis, summing to 1
	Sex    Sex     // AnySex unless the form is of one sex only
	Cells  [][]float64
}

// Dependent are characters that partly say the same thing: each counts with Exponent (above 0, at most 1) when two or
// more of them are reported. A character of several such groups takes the smallest exponent.
type Dependent struct {
	Characters []int
	Exponent   float64
}

// Spec is what a Model is made from. None, TableError and SharedError are probabilities from 0 to below 1, None above 0.
type Spec struct {
	Characters []Character
	Hypotheses []Hypothesis
	Dependent  []Dependent
	// None is the prior probability of the hypothesis "none of those listed".
	None float64
	// TableError is the share of the background in every cell.
	TableError float64
	// SharedError is the probability that all who look at an ordinary state are misled alike. Length has none.
	SharedError float64
	// Readers are the kinds of people who report, the least practised first, each with the accuracy that it has where
	// nothing else is known, above 0 and below 1. A model without any knows no Ease.
	Readers []float64
}

// backgroundUniform is the uniform part of a character's background: what no listed hypothesis shows can still be shown
// by one that is not listed. The tenth is assumed, no source.
const backgroundUniform = 0.1

// Model is a Spec compiled into dense arrays. It is read-only and safe for concurrent use.
type Model struct {
	characters []compiled
	dependent  []Dependent
	groups     [][]int // by character: the elements of dependent that it belongs to
	first      []int   // first form of each hypothesis, and the number of forms as the last element
	// Weights of the forms within their hypotheses, by sex.
	weight, logWeight [3][]float64
	leastWeight       [3]float64 // above 0
	// Priors of the hypotheses, which sum to 1, with "none of those listed" as the last.
	prior, logPrior []float64
	none            float64
	spare           chan *scratch
}

// NewModel checks and compiles a spec. The error names the first thing that is wrong, by its indices.
func NewModel(spec Spec) (*Model, error) {
	if err := spec.check(); err != nil {
		return nil, err
	}
	m := &Model{dependent: spec.Dependent, none: spec.None, spare: make(chan *scratch, mostSpare)}
	m.addForms(spec)
	for c := range spec.Characters {
		m.characters = append(m.characters, compile(spec, c))
		m.groups = append(m.groups, groupsOf(spec.Dependent, c))
	}
	var weights []float64
	for _, h := range spec.Hypotheses {
		weights = append(weights, h.Prior)
	}
	m.prior, m.logPrior = make([]float64, m.Hypotheses()), make([]float64, m.Hypotheses())
	m.fillPrior(m.prior, weights)
	fillLogarithms(m.logPrior, m.prior)
	return m, nil
}

// Hypotheses returns how many hypotheses there are, with "none of those listed" as the last.
func (m *Model) Hypotheses() int { return len(m.first) - 1 }

// None returns the index of "none of those listed".
func (m *Model) None() int { return m.Hypotheses() - 1 }

func (m *Model) forms() int { return m.first[len(m.first)-1] }

func (m *Model) addForms(spec Spec) {
	for _, h := range spec.Hypotheses {
		m.addHypothesis(h.Forms)
	}
	m.addHypothesis([]Form{{Weight: 1}})
	m.first = append(m.first, len(m.weight[AnySex]))
	for sex, weights := range m.weight {
		m.logWeight[sex] = make([]float64, len(weights))
		m.leastWeight[sex] = 1
		for f, w := range weights {
			m.logWeight[sex][f] = math.Log(w)
			if w > 0 {
				m.leastWeight[sex] = min(m.leastWeight[sex], w)
			}
		}
	}
}

func (m *Model) addHypothesis(forms []Form) {
	m.first = append(m.first, len(m.weight[AnySex]))
	for sex := range m.weight {
		m.weight[sex] = append(m.weight[sex], weightsFor(forms, Sex(sex))...)
	}
}

// weightsFor gives forms of the other sex no weight and lets the rest share it. A hypothesis known from the other sex
// only keeps all its forms: better a near description than none.
func weightsFor(forms []Form, sex Sex) []float64 {
	fits := func(f Form) bool { return sex == AnySex || f.Sex == AnySex || f.Sex == sex }
	sum := 0.0
	for _, f := range forms {
		if fits(f) {
			sum += f.Weight
		}
	}
	if sum == 0 {
		return weightsFor(forms, AnySex)
	}
	weights := make([]float64, len(forms))
	for i, f := range forms {
		if fits(f) {
			weights[i] = f.Weight / sum
		}
	}
	return weights
}

// fillPrior normalises weights of the listed hypotheses beside "none of those listed".
func (m *Model) fillPrior(out, weights []float64) {
	total := sum(weights)
	for h, w := range weights {
		out[h] = (1 - m.none) * w / total
	}
	out[m.None()] = m.none
}

func (s Spec) check() error {
	for _, p := range []float64{s.None, s.TableError, s.SharedError} {
		if !(p >= 0 && p < 1) {
			return fmt.Errorf("a probability of the spec is %v, outside 0 to 1", p)
		}
	}
	if s.None == 0 || len(s.Hypotheses) == 0 {
		return fmt.Errorf("a model needs a hypothesis, and a prior above 0 for none of those listed")
	}
	for i, accuracy := range s.Readers {
		if !inside(accuracy) {
			return fmt.Errorf("reader %d: the accuracy is %v, not above 0 and below 1", i, accuracy)
		}
	}
	for i, c := range s.Characters {
		if err := c.check(len(s.Readers)); err != nil {
			return fmt.Errorf("character %d: %w", i, err)
		}
	}
	for i, d := range s.Dependent {
		if !(d.Exponent > 0 && d.Exponent <= 1) {
			return fmt.Errorf("dependence group %d: the exponent is %v, not above 0 and at most 1", i, d.Exponent)
		}
	}
	for i, h := range s.Hypotheses {
		if err := h.check(s.Characters); err != nil {
			return fmt.Errorf("hypothesis %d: %w", i, err)
		}
	}
	return nil
}

func (c Character) check(readers int) error {
	if c.States < 1 || c.States > MaxStates {
		return fmt.Errorf("%d states, not 1 to %d", c.States, MaxStates)
	}
	if c.Kind == Length && !(c.Step > 0) {
		return fmt.Errorf("a length needs the width of its bins")
	}
	for _, pair := range c.Confused {
		if min(pair.From, pair.To) < 0 || max(pair.From, pair.To) >= c.States || pair.From == pair.To || !positive(pair.Weight) {
			return fmt.Errorf("the confused pair %v is not two states with a weight above 0", pair)
		}
	}
	if c.Striking != nil && (len(c.Striking) != c.States || c.Kind != Nominal) {
		return fmt.Errorf("striking states: %d of %d, of nominal ones", len(c.Striking), c.States)
	}
	return c.checkEase(readers)
}

func (c Character) checkEase(readers int) error {
	if c.Ease == nil {
		return nil
	}
	if len(c.Ease) != readers || c.Kind == Length {
		return fmt.Errorf("ease for %d readers of %d, and a length has none", len(c.Ease), readers)
	}
	for r, ease := range c.Ease {
		if len(ease) != c.States || slices.ContainsFunc(ease, func(e float64) bool { return !positive(e) }) {
			return fmt.Errorf("the ease of reader %d is not one number above 0 for each of %d states", r, c.States)
		}
	}
	return nil
}

// sumTolerance is what distributions that were written by people and normalised may miss 1 by.
const sumTolerance = 1e-6

func (h Hypothesis) check(characters []Character) error {
	if !(h.Prior > 0) || math.IsInf(h.Prior, 0) {
		return fmt.Errorf("the prior weight is %v, not above 0", h.Prior)
	}
	weights := 0.0
	for i, f := range h.Forms {
		if !(f.Weight > 0) {
			return fmt.Errorf("form %d: the weight is %v, not above 0", i, f.Weight)
		}
		weights += f.Weight
		if len(f.Cells) != len(characters) {
			return fmt.Errorf("form %d: %d cells for %d characters", i, len(f.Cells), len(characters))
		}
		for c, cell := range f.Cells {
			if cell != nil && !isDistribution(cell, characters[c].States) {
				return fmt.Errorf("form %d: the cell of character %d is no distribution over its %d states", i, c, characters[c].States)
			}
		}
	}
	if math.Abs(weights-1) > sumTolerance {
		return fmt.Errorf("the weights of the forms sum to %v, not 1", weights)
	}
	return nil
}

func isDistribution(cell []float64, states int) bool {
	sum := 0.0
	for _, p := range cell {
		if !(p >= 0) {
			return false
		}
		sum += p
	}
	return len(cell) == states && math.Abs(sum-1) <= sumTolerance
}

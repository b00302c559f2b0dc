package confidence

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func newModel(t testing.TB, spec Spec) *Model {
	t.Helper()
	m, err := NewModel(spec)
	require.NoError(t, err)
	return m
}

// plain is a hypothesis of one form.
func plain(prior float64, cells ...[]float64) Hypothesis {
	return Hypothesis{Prior: prior, Forms: []Form{{Weight: 1, Cells: cells}}}
}

func nominal(states ...int) []Character {
	characters := make([]Character, len(states))
	for i, n := range states {
		characters[i] = Character{States: n}
	}
	return characters
}

func stated(character, state int, accuracy float64) Observation {
	return Observation{Character: character, Reports: []Report{{Kind: Stated, State: state, Better: NoState, Accuracy: accuracy}}}
}

// tiny is a prior for "none of those listed" that leaves published two-class examples as they are.
const tiny = 1e-15

// probability is P(r | s) of a character by itself, as multiply has it.
func (c *compiled) probability(r Report, s int) float64 {
	if c.readAs == nil {
		c.readAs = transposed(c.misreading, c.states)
		c.agreeing = c.agreements()
	}
	var product [MaxStates]float64
	product[s] = 1
	r.Accuracy, r.Anchoring = unit(r.Accuracy), unit(r.Anchoring)
	c.multiply(product[:c.states], r)
	return product[s]
}

// share adds the error that all reports of a character have in common, state by state; Posterior has it in the rows.
func (c *compiled) share(likelihood, product []float64) {
	if c.kind == Length || c.states == 1 {
		copy(likelihood, product)
		return
	}
	for s, shared := range c.shared {
		likelihood[s] = (1-shared)*product[s] + shared*dot(c.misreading[s*c.states:][:c.states], product)
	}
}

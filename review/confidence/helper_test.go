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

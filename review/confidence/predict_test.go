package confidence

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// By the rule of total probability, from the numbers of the spec alone: P(s | other reports) = Σ_F P(F | other reports) · p(s | F).
func TestStateIsPredictedFromTheOtherCharacters(t *testing.T) {
	spec := Spec{None: 1e-9, Characters: []Character{{States: 2}, {States: 3}},
		Hypotheses: []Hypothesis{
			{Prior: 3, Forms: []Form{{Weight: 1, Cells: [][]float64{{1, 0}, {0.5, 0.25, 0.25}}}}},
			{Prior: 1, Forms: []Form{{Weight: 1, Cells: [][]float64{{0, 1}, {0, 0.5, 0.5}}}}}}}
	m, err := NewModel(spec)
	require.NoError(t, err)
	about := func(c, s int) Observation {
		return Observation{Character: c, Reports: []Report{{Kind: Stated, State: s, Accuracy: 0.75}}}
	}
	// 3·0.25 against 1·0.75: even odds.
	both := m.Posterior([]Observation{about(0, 1), about(1, 0)}, AnySex, nil)
	require.InDeltaSlice(t, []float64{0.25, 0.375, 0.375}, both.State(1), 1e-6)
	one := m.Posterior([]Observation{about(0, 1)}, AnySex, nil)
	require.InDeltaSlice(t, one.State(1), both.State(1), 1e-12, "what was said of the character itself takes no part")
	none := m.Posterior(nil, AnySex, nil)
	require.InDeltaSlice(t, []float64{0.75, 0.25}, none.State(0), 1e-6)
}

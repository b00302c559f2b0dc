package confidence

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// What is kept and taken up again must go on as if nothing had happened.
func TestResumeGoesOn(t *testing.T) {
	panel := Panel{Characters: []Character{{States: 2}, {States: 3}}, Region: []int{0, 1}, Regions: 2, SharedError: 0.02,
		Roles: []Role{RoleOf(0.85, 0.4, 10), RoleOf(0.95, 0.2, 20)}, Persons: []int{0, 1, 1}}
	item := func(c int, seen ...int) Item {
		out := Item{Character: c, Prior: make([]float64, panel.Characters[c].States)}
		for s := range out.Prior {
			out.Prior[s] = 1 / float64(len(out.Prior))
		}
		for person, s := range seen {
			v := Verdict{Person: person, Kind: Stated, State: s, Blind: person == 2}
			if person == 1 {
				v.Kind = Confirmed
			}
			out.Verdicts = append(out.Verdicts, v)
		}
		return out
	}
	first := []Item{item(0, 0, 0, 0), item(1, 2, 2, 1), item(1, 0, 0, 0)}
	second := []Item{item(0, 1, 1, 0), item(1, 1, 1, 1)}
	for range 40 { // so that the anchoring of the third is estimated
		first = append(first, item(1, 1, 1, 1))
	}

	whole, err := NewReliability(panel)
	require.NoError(t, err)
	require.NoError(t, whole.Add(first))
	resumed, err := NewReliability(panel)
	require.NoError(t, err)
	for person := range panel.Persons {
		require.NoError(t, resumed.Resume(person, whole.Known(person)))
	}
	require.NoError(t, whole.Add(second))
	require.NoError(t, resumed.Add(second))
	for person := range panel.Persons {
		require.Equal(t, whole.Known(person), resumed.Known(person))
		require.Equal(t, whole.Anchoring(person), resumed.Anchoring(person))
		for region := range panel.Regions {
			known, accuracy := resumed.Known(person).Accuracy[region], whole.Accuracy(person, region)
			require.Equal(t, accuracy, resumed.Accuracy(person, region))
			require.InDelta(t, accuracy.Value, known.Value(), 1e-12)
			require.InDelta(t, accuracy.StandardError, known.StandardError(), 1e-12)
		}
	}
	require.True(t, resumed.Known(2).Anchoring.Estimated())

	before := resumed.Known(0)
	bad := before
	bad.Anchoring.Looked = 0
	require.ErrorContains(t, resumed.Resume(0, bad), "anchoring")
	require.ErrorContains(t, resumed.Resume(0, Known{}), "0 accuracies for 2 regions")
	require.Equal(t, before, resumed.Known(0))
}

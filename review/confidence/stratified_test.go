package confidence

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"
)

// krippendorffData are the values of a published example by unit.
func krippendorffData(t *testing.T, name string) (units [][]float64, nominal float64) {
	t.Helper()
	var file map[string]json.RawMessage
	readJSON(t, "agreement/krippendorff.json", &file)
	var example struct {
		Data      [][]*float64
		Published struct{ Nominal float64 }
	}
	require.NoError(t, json.Unmarshal(file[name], &example))
	units = make([][]float64, len(example.Data[0]))
	for _, observer := range example.Data {
		for u, value := range observer {
			if value != nil {
				units[u] = append(units[u], *value)
			}
		}
	}
	return units, example.Published.Nominal
}

// TestStratifiedKeepsAPublishedExample: Krippendorff (2011), sections C and D, as one part, as two parts of the same
// shape, and beside a part of one category, which has nothing to tell.
func TestStratifiedKeepsAPublishedExample(t *testing.T) {
	units, want := krippendorffData(t, "four_observers_missing")
	a, err := KrippendorffAlpha(units, NominalMetric)
	require.NoError(t, err)
	one, err := KrippendorffAlpha([][]float64{{7, 7}, {7, 7, 7}}, NominalMetric)
	require.NoError(t, err)
	for name, parts := range map[string][]Agreement{"alone": {a}, "twice": {a, a}, "beside one category": {a, one}} {
		s := Stratified(parts)
		require.True(t, s.OK, name)
		require.InDelta(t, want, s.Value, 5e-4, name)
		require.InDelta(t, a.Value, s.Value, 1e-12, name)
	}
	require.InDelta(t, 85, Stratified([]Agreement{a, a, one}).Ratings, 1e-9, "40 pairable values each, and five")
}

// TestStratifiedByHand: two raters on ten things of each of two kinds. Of the first they use both categories alike and
// differ twice; of the second the one uses only the first category nine times. Worked out by hand.
func TestStratifiedByHand(t *testing.T) {
	first, err := CohenKappa([][]float64{{4, 1}, {1, 4}}) // observed 0.2, expected 0.5
	require.NoError(t, err)
	second, err := CohenKappa([][]float64{{8, 1}, {1, 0}}) // observed 0.2, expected 2 · 0.9 · 0.1 = 0.18
	require.NoError(t, err)
	s := Stratified([]Agreement{first, second})
	require.InDelta(t, 1-0.4/0.68, s.Value, 1e-12)
	// The weights are 0.5 / 0.68 and 0.18 / 0.68.
	require.InDelta(t, (0.5*first.Value+0.18*second.Value)/0.68, s.Value, 1e-12)
	variance := (0.5*0.5*first.StandardError*first.StandardError + 0.18*0.18*second.StandardError*second.StandardError) / (0.68 * 0.68)
	require.InDelta(t, variance, s.StandardError*s.StandardError, 1e-12)
	require.Contains(t, s.Warnings, FewCases)

	// Pooling the tables as if they were one thing of four categories makes chance look smaller than it is.
	pooled, err := CohenKappa([][]float64{{4, 1, 0, 0}, {1, 4, 0, 0}, {0, 0, 8, 1}, {0, 0, 1, 0}})
	require.NoError(t, err)
	require.Greater(t, pooled.Value, s.Value+0.2)
}

func TestStratifiedOfNothing(t *testing.T) {
	require.Equal(t, []Warning{NoCases}, Stratified(nil).Warnings)
	one, err := KrippendorffAlpha([][]float64{{2, 2}}, NominalMetric)
	require.NoError(t, err)
	require.False(t, Stratified([]Agreement{one}).OK)
	require.Contains(t, Stratified([]Agreement{one}).Warnings, OneCategory)
}

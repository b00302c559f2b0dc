package confidence

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestLeaningByHand: with odds of 4 of reading a state right and a leaning of ln 2 the striking one is read right at odds of 8 and
// imagined where the other one is true at odds of 1 : 2. A character without a striking state is read as by anybody.
func TestLeaningByHand(t *testing.T) {
	spec := Spec{Characters: nominal(2, 2), None: tiny, Hypotheses: []Hypothesis{plain(1, []float64{1, 0}, []float64{1, 0}), plain(1, []float64{0, 1}, []float64{0, 1})}}
	spec.Characters[0].Striking = []bool{true, false}
	m := newModel(t, spec)
	by := func(character, state int, leaning float64) float64 {
		p := m.Posterior([]Observation{{Character: character, Reports: []Report{{State: state, Accuracy: 0.8, Leaning: leaning}}}}, AnySex, nil).P
		return p[0] / p[1]
	}
	require.InDelta(t, 4, by(0, 0, 0), 1e-9)
	require.InDelta(t, (8.0/9)/(1.0/3), by(0, 0, math.Ln2), 1e-9)
	require.InDelta(t, (1.0/9)/(2.0/3), by(0, 1, math.Ln2), 1e-9)
	require.InDelta(t, 4, by(1, 0, math.Ln2), 1e-9)
	require.InDelta(t, by(0, 0, mostLeaning), by(0, 0, 99), 1e-9)
	require.InDelta(t, by(0, 0, 0), by(0, 0, math.NaN()), 1e-9)
}

// TestLeaningOnlooker: of two equally probable hypotheses of which one shows a striking state and the other does not, a look at the odds
// of TestLeaningByHand is a binary channel with the probabilities 8/9 and 1/3 of saying it: I = H(Y) − (H(8/9) + H(1/3)) / 2 (Shannon
// 1948, A Mathematical Theory of Communication). Where nothing is striking it tells as much as anybody's.
func TestLeaningOnlooker(t *testing.T) {
	spec := Spec{Characters: nominal(2, 2), None: tiny, Hypotheses: []Hypothesis{plain(1, []float64{1, 0}, []float64{1, 0}), plain(1, []float64{0, 1}, []float64{0, 1})}}
	spec.Characters[0].Striking = []bool{true, false}
	p := newModel(t, spec).Posterior(nil, AnySex, nil)
	entropy := func(x float64) float64 { return -x*math.Log2(x) - (1-x)*math.Log2(1-x) }
	look := Onlooker{Accuracy: []float64{0.8, 0.8}}
	require.InDeltaSlice(t, []float64{1 - entropy(0.8), 1 - entropy(0.8)}, p.Information(look), 1e-9)
	look.Leaning = math.Ln2
	leant := entropy((8.0/9+1.0/3)/2) - (entropy(8.0/9)+entropy(1.0/3))/2
	require.InDeltaSlice(t, []float64{leant, 1 - entropy(0.8)}, p.Information(look), 1e-9)
	look.Leaning = 99
	most := p.Information(look)
	look.Leaning = mostLeaning
	require.Equal(t, p.Information(look), most, "bounded")
	look.Leaning = 0
	require.InDeltaSlice(t, []float64{1 - entropy(0.8), 1 - entropy(0.8)}, p.Information(look), 1e-9, "nothing is left of another onlooker")
}

// leaningPanel is one character with a striking state, which three people look at: the first leans, two hardly err.
func leaningPanel(striking bool) Panel {
	c := Character{Kind: Nominal, States: 2}
	if striking {
		c.Striking = []bool{true, false}
	}
	return Panel{Characters: []Character{c}, Region: []int{0}, Regions: 1,
		Roles: []Role{RoleOf(0.85, 0.3, 20), RoleOf(0.97, 0.3, 2000)}, Persons: []int{0, 1, 1}}
}

// leaningItems are looks at the striking and the other state by turns; the first person leans by γ, with odds of 85 : 15, and
// some of the reports are blind.
func leaningItems(n, blind int, leaning float64) []Item {
	random := rand.New(rand.NewPCG(11, 13))
	says := func(state int, right float64) int {
		if random.Float64() < right {
			return state
		}
		return 1 - state
	}
	var items []Item
	for i := range n {
		state := i % 2
		lean := 1 - 2*float64(state)
		first := says(state, Sight(0.85, math.Exp(lean*leaning)))
		items = append(items, Item{Prior: []float64{0.5, 0.5}, Verdicts: []Verdict{
			{Person: 0, Kind: Stated, State: first, Better: NoState, Blind: i < blind},
			{Person: 1, Kind: Stated, State: says(state, 0.97), Better: NoState},
			{Person: 2, Kind: Stated, State: says(state, 0.97), Better: NoState}}})
	}
	return items
}

// TestLeaningIsLearnt: from thirty blind reports on somebody who says what is striking more readily than others is known as such,
// beside how well they see, and the log posterior never falls.
func TestLeaningIsLearnt(t *testing.T) {
	for _, leaning := range []float64{-0.8, 0, 0.8} {
		r, err := FitReliability(leaningPanel(true), leaningItems(2000, BlindChecks, leaning), ReliabilityOptions{})
		require.NoError(t, err)
		require.True(t, r.Converged)
		require.InDelta(t, leaning, r.Known(0).Leaning.Value(), 0.15)
		require.InDelta(t, 0.85, r.Accuracy(0, 0).Value, 0.03)
		require.InDelta(t, 0, r.Known(1).Leaning.Value(), 1e-12, "too few blind ones")
		for i := range r.LogPosterior[1:] {
			require.GreaterOrEqual(t, r.LogPosterior[i+1], r.LogPosterior[i]-1e-9)
		}
	}
}

// TestNoLeaningBelowThirty: with one blind report fewer all is as if nobody could lean.
func TestNoLeaningBelowThirty(t *testing.T) {
	items := leaningItems(400, BlindChecks-1, 0.8)
	r, err := FitReliability(leaningPanel(true), items, ReliabilityOptions{})
	require.NoError(t, err)
	before, err := FitReliability(leaningPanel(false), items, ReliabilityOptions{})
	require.NoError(t, err)
	require.Zero(t, r.Known(0).Leaning.Value())
	require.InDelta(t, before.Accuracy(0, 0).Value, r.Accuracy(0, 0).Value, 1e-9)
	require.InDelta(t, before.Accuracy(0, 0).StandardError, r.Accuracy(0, 0).StandardError, 1e-9)
}

// TestLeaningGoesOn: what is known of a leaning is kept, and more reports on it bring it nearer.
func TestLeaningGoesOn(t *testing.T) {
	items := leaningItems(2000, 1000, 0.8)
	r, err := FitReliability(leaningPanel(true), items[:1000], ReliabilityOptions{})
	require.NoError(t, err)
	next, err := NewReliability(leaningPanel(true))
	require.NoError(t, err)
	require.NoError(t, next.Resume(0, r.Known(0)))
	require.InDelta(t, r.Known(0).Leaning.Value(), next.Known(0).Leaning.Value(), 1e-9)
	require.NoError(t, next.Add(items[1000:]))
	require.InDelta(t, 0.8, next.Known(0).Leaning.Value(), 0.2)
	worth := func(k KnownLeaning) float64 { return k.Toward + k.Against }
	require.Greater(t, worth(next.Known(0).Leaning), worth(r.Known(0).Leaning))
	require.ErrorContains(t, next.Resume(0, Known{Accuracy: r.Known(0).Accuracy, Anchoring: r.Known(0).Anchoring, Leaning: KnownLeaning{Toward: -1}}), "leaning")
}

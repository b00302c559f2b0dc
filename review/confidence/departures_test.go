package confidence

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestAtLeast: binomial tables, n = 10, p = 0.2, P(X ≥ 4) = 0.1209 (National Bureau of Standards 1950, Tables of the
// binomial probability distribution, from memory), and a sum over all outcomes for unequal probabilities.
func TestAtLeast(t *testing.T) {
	p := make([]float64, 10)
	for i := range p {
		p[i] = 0.2
	}
	require.InDelta(t, 0.1209, atLeast(p, 4), 5e-5)
	require.InDelta(t, 1, atLeast(p, 0), 0)
	require.InDelta(t, math.Pow(0.2, 10), atLeast(p, 10), 1e-12)

	unequal := []float64{0.1, 0.5, 0.9, 0.3, 0.02}
	for k := range 6 {
		want := 0.0
		for outcome := range 1 << len(unequal) {
			one, n := 1.0, 0
			for i, v := range unequal {
				if outcome>>i&1 == 1 {
					one, n = one*v, n+1
				} else {
					one *= 1 - v
				}
			}
			if n >= k {
				want += one
			}
		}
		require.InDelta(t, want, atLeast(unequal, k), 1e-12)
	}
}

// atLeast is the probability that k or more of events with probabilities p happen.
func atLeast(p []float64, k int) float64 {
	var c eventCount
	for _, v := range p {
		c.add(v)
	}
	return c.atLeast(k)
}

// TestManyEvents: for a hundred thousand events the mean is that of the probabilities, and the tail is that of the normal
// distribution with a third moment (Edgeworth; Abramowitz M., Stegun I.A. 1964, 26.2.47, from memory) to 1e-4.
func TestManyEvents(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 8))
	var c eventCount
	mean, variance, third := 0.0, 0.0, 0.0
	for range 100_000 {
		p := 0.04 * random.Float64()
		c.add(p)
		mean, variance, third = mean+p, variance+p*(1-p), third+p*(1-p)*(1-2*p)
	}
	require.Less(t, len(c.p), 1200, "what is kept follows the standard deviation of the number")
	sd := math.Sqrt(variance)
	for _, z := range []float64{-3, -1, 0, 1, 2, 3, 4} {
		k := math.Ceil(mean + z*sd)
		x := (k - 0.5 - mean) / sd
		want := 0.5*math.Erfc(x/math.Sqrt2) + third/(6*sd*sd*sd)*(x*x-1)*math.Exp(-x*x/2)/math.Sqrt(2*math.Pi)
		require.InDelta(t, want, c.atLeast(int(k)), 1e-4, "%v standard deviations", z)
	}
}

// TestDepartureByHand: two states, nothing known before, an observer right nine times in ten who stated 0, and two blind
// people right four times in five. Both depart rightly with 0.1 · 0.64, wrongly with 0.9 · 0.04.
func TestDepartureByHand(t *testing.T) {
	d := Departure{Character: Character{States: 2}, Prior: []float64{0.5, 0.5}, Recorded: 0,
		Others: []Report{{Kind: Stated, State: 0, Accuracy: 0.9}},
		First:  Reading{State: 1, Accuracy: 0.8}, Second: Reading{State: 1, Accuracy: 0.8}}
	got, err := SharedDepartures([]Departure{d}, 0)
	require.NoError(t, err)
	require.InDelta(t, 0.1*0.64+0.9*0.04, got.Expected, 1e-12)
	require.Equal(t, 1, got.Observed)
	require.InDelta(t, got.Expected, got.Tail, 1e-12)
	require.Equal(t, []Warning{FewCases}, got.Warnings)

	// Whoever confirms half of what is shown without looking departs half as often.
	d.First.Anchoring = 0.5
	anchored, err := SharedDepartures([]Departure{d}, 0)
	require.NoError(t, err)
	require.InDelta(t, got.Expected/2, anchored.Expected, 1e-12)

	// Where specimen or photo misleads everybody one time in ten, whatever it makes of nothing known is nothing known.
	shared, err := SharedDepartures([]Departure{d}, 0.1)
	require.NoError(t, err)
	require.InDelta(t, anchored.Expected, shared.Expected, 1e-12)
}

// TestSharedDeparturesFindCopying: independent people are named about as often as the level says, people of whom one
// takes over what the other said are found. The generator is not the package's.
func TestSharedDeparturesFindCopying(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 5))
	const clubs, level = 300, 0.05
	named, found := 0, 0
	for range clubs {
		if departures(t, random, 0).Tail < level {
			named++
		}
		if departures(t, random, 0.5).Tail < level {
			found++
		}
	}
	// The tail of a discrete count is at or below the level less often than the level says; three standard errors above.
	require.LessOrEqual(t, named, int(clubs*level+3*math.Sqrt(clubs*level*(1-level))))
	require.Greater(t, found, clubs*9/10)
}

// departures are those of two people on 300 things of three states, where the second copies the first with a probability.
func departures(t *testing.T, random *rand.Rand, copies float64) Departures {
	t.Helper()
	read := func(truth int, accuracy float64) int {
		if random.Float64() < accuracy {
			return truth
		}
		return (truth + 1 + random.IntN(2)) % 3
	}
	var items []Departure
	for range 300 {
		truth := random.IntN(3)
		shown := read(truth, 0.85)
		d := Departure{Character: Character{States: 3}, Prior: []float64{1. / 3, 1. / 3, 1. / 3}, Recorded: shown,
			Others: []Report{{Kind: Stated, State: shown, Accuracy: 0.85}},
			First:  Reading{State: read(truth, 0.8), Accuracy: 0.8}, Second: Reading{State: read(truth, 0.8), Accuracy: 0.8}}
		if random.Float64() < copies {
			d.Second.State = d.First.State
		}
		items = append(items, d)
	}
	got, err := SharedDepartures(items, 0)
	require.NoError(t, err)
	return got
}

func TestSharedDeparturesRefuse(t *testing.T) {
	good := Departure{Character: Character{States: 2}, Prior: []float64{0.5, 0.5}}
	for message, spoil := range map[string]func(*Departure){
		"no distribution": func(d *Departure) { d.Prior = []float64{0.5} },
		"state 2 of 2":    func(d *Departure) { d.Second.State = 2 },
		"nothing to":      func(d *Departure) { d.Character = Character{States: 5, Kind: Length, Step: 1} },
		"0 states":        func(d *Departure) { d.Character = Character{} },
	} {
		bad := good
		spoil(&bad)
		_, err := SharedDepartures([]Departure{bad}, 0)
		require.ErrorContains(t, err, message)
	}
	none, err := SharedDepartures(nil, 0)
	require.NoError(t, err)
	require.Equal(t, Departures{Tail: 1, Warnings: []Warning{NoCases}}, none)
}

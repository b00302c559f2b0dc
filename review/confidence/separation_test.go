package confidence

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func everywhere(accuracy float64, spec Spec) []float64 {
	list := make([]float64, len(spec.Characters))
	for c := range list {
		list[c] = accuracy
	}
	return list
}

// channel is a pair of hypotheses that show a two-state character nine times in ten and one time in ten.
func channel(characters int, exponent float64) Spec {
	spec := Spec{None: tiny}
	one, other := Form{Weight: 1}, Form{Weight: 1}
	group := Dependent{Exponent: exponent}
	for c := range characters {
		spec.Characters = append(spec.Characters, Character{States: 2})
		one.Cells = append(one.Cells, []float64{0.9, 0.1})
		other.Cells = append(other.Cells, []float64{0.1, 0.9})
		group.Characters = append(group.Characters, c)
	}
	spec.Hypotheses = []Hypothesis{{Prior: 1, Forms: []Form{one}}, {Prior: 1, Forms: []Form{other}}}
	spec.Dependent = []Dependent{group}
	return spec
}

// The capacity of a binary symmetric channel that errs one time in ten is 1 − H(0.1) = 0.531004 bits (Shannon 1948, A
// Mathematical Theory of Communication, section 12; the digits from memory and worked out again). The rest by hand.
func TestLooksOfABinaryChannel(t *testing.T) {
	l := newModel(t, channel(1, 1)).Looks(0, []float64{1}, nil)
	require.InDelta(t, 0.531004, l.Bits(0, 0, 1), 1e-6)
	// Squared, nine to one is 81 to 1: 1 − H(1/82).
	require.InDelta(t, 0.904978, l.Sharpened(0, 0, 1), 1e-5)
	// ½ · 2 · √(0.9 · 0.1)
	require.InDelta(t, 0.3, l.ErrorBound(0, 1, []int{0}), 1e-12)
	// Right nine times in ten with probability 0.9, else with 0.1: 0.81 + 0.01.
	random := rand.New(rand.NewPCG(1, 2))
	e := l.Expected(l.Draw(0, 20000, random), l.Draw(1, 20000, random), []int{0}, 20000)
	require.InDelta(t, 0.82, e.Mean, 4*e.Error)
	// The posterior is 0.9 or 0.1, so its standard deviation is 0.8 · √(0.9 · 0.1) = 0.24; 40,000 specimens.
	require.InDelta(t, 0.24/math.Sqrt(40000), e.Error, 2e-5)
}

// Two characters with exponent one half are worth one: where both agree the odds are 9^(½+½), else even. So the
// expectation is 0.81 · 0.9 + 0.18 · 0.5 + 0.01 · 0.1 = 0.82.
func TestExpectedWithDependence(t *testing.T) {
	l := newModel(t, channel(2, 0.5)).Looks(0, []float64{1, 1}, nil)
	random := rand.New(rand.NewPCG(3, 4))
	a, b := l.Draw(0, 20000, random), l.Draw(1, 20000, random)
	both := l.Expected(a, b, []int{0, 1}, 20000)
	require.InDelta(t, 0.82, both.Mean, 4*both.Error)
	// E[x^¼] of each character is 0.9 · 9^−¼ + 0.1 · 9^¼ = 0.692820.
	require.InDelta(t, 0.692820*0.692820/2, l.ErrorBound(0, 1, []int{0, 1}), 1e-6)
	alone := l.Expected(a, b, []int{1}, 20000)
	require.InDelta(t, 0.82, alone.Mean, 4*alone.Error, "the exponent needs two of the group")
}

func TestSilentReportsTellNothing(t *testing.T) {
	m := newModel(t, channel(1, 1))
	random := rand.New(rand.NewPCG(5, 6))
	mute := m.Looks(0, []float64{1}, map[int][]int{0: {0, 1}})
	require.Zero(t, mute.Bits(0, 0, 1))
	require.InDelta(t, 0.5, mute.ErrorBound(0, 1, []int{0}), 1e-12)
	require.Equal(t, Estimate{Mean: 0.5}, mute.Expected(mute.Draw(0, 50, random), mute.Draw(1, 50, random), []int{0}, 50))

	half := m.Looks(0, []float64{1}, map[int][]int{0: {1}})
	require.InDelta(t, 0.531004/2, half.Bits(0, 0, 1), 1e-6)
	e := half.Expected(half.Draw(0, 20000, random), half.Draw(1, 20000, random), []int{0}, 20000)
	// ½ · (0.9 · 0.9 + 0.1 · 0.5) + ½ · (0.1 · 0.1 + 0.9 · 0.5)
	require.InDelta(t, 0.66, e.Mean, 4*e.Error)
	require.GreaterOrEqual(t, half.ErrorBound(0, 1, []int{0}), 1-0.66)
}

// TestLooksAgainstEnumeration: over every combination of reports of small models, with what Posterior makes of each, the
// expectation is what the draws give and the bound is no less than the error.
func TestLooksAgainstEnumeration(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spec := drawSpec(t)
		spec.Hypotheses = append(spec.Hypotheses, spec.Hypotheses[0])
		if len(spec.Characters) > 1 {
			spec.Dependent = []Dependent{{Characters: []int{0, 1}, Exponent: rapid.Float64Range(0.2, 1).Draw(t, "exponent")}}
		}
		for h := range spec.Hypotheses {
			for f := range spec.Hypotheses[h].Forms {
				spec.Hypotheses[h].Forms[f].Sex = AnySex
			}
		}
		accuracy := rapid.Float64Range(0.5, 1).Draw(t, "accuracy")
		m, err := NewModel(spec)
		if err != nil {
			t.Fatal(err)
		}
		all := make([]int, len(spec.Characters))
		for c := range all {
			all[c] = c
		}
		a, b := 0, rapid.IntRange(1, len(spec.Hypotheses)-1).Draw(t, "rival")
		exact := enumerated(t, spec, a, b, accuracy)

		l := m.Looks(0, everywhere(accuracy, spec), nil)
		if bound := l.ErrorBound(a, b, all); bound < 1-exact-1e-9 {
			t.Fatalf("the bound %v is below the error %v", bound, 1-exact)
		}
		random := rand.New(rand.NewPCG(7, 8))
		e := l.Expected(l.Draw(a, 2000, random), l.Draw(b, 2000, random), all, 2000)
		// A hundredth for what 2000 draws may not have met at all.
		if !near(e.Mean, exact, 6*e.Error+0.01) {
			t.Fatalf("%v ± %v, not %v", e.Mean, e.Error, exact)
		}
	})
}

// enumerated is the expected posterior of the true one of two hypotheses.
func enumerated(t *rapid.T, spec Spec, a, b int, accuracy float64) float64 {
	m, err := NewModel(spec)
	if err != nil {
		t.Fatal(err)
	}
	// The same with each form as a hypothesis and without exponents gives the probability of the reports themselves.
	single := spec
	single.Hypotheses, single.Dependent = nil, nil
	weights := make([][]float64, len(spec.Hypotheses))
	for h, hypothesis := range spec.Hypotheses {
		weights[h] = make([]float64, 0)
		for _, f := range hypothesis.Forms {
			single.Hypotheses = append(single.Hypotheses, Hypothesis{hypothesis.Prior * f.Weight, []Form{{Weight: 1, Cells: f.Cells}}})
			weights[h] = append(weights[h], f.Weight)
		}
	}
	forms, err := NewModel(single)
	if err != nil {
		t.Fatal(err)
	}
	probability := func(h int, logs []float64) (p float64) {
		first := 0
		for i := range h {
			first += len(weights[i])
		}
		for i, w := range weights[h] {
			p += w * math.Exp(logs[first+i])
		}
		return p
	}
	expected := 0.0
	eachCombination(spec.Characters, func(states []int) {
		var observations []Observation
		for c, s := range states {
			observations = append(observations, stated(c, s, accuracy))
		}
		judged := m.Posterior(observations, AnySex, nil).LogLikelihood
		p := 1 / (1 + math.Exp(judged[b]-judged[a]))
		logs := forms.Posterior(observations, AnySex, nil).LogLikelihood
		expected += probability(a, logs)*p/2 + probability(b, logs)*(1-p)/2
	})
	return expected
}

func eachCombination(characters []Character, visit func(states []int)) {
	states := make([]int, len(characters))
	for {
		visit(states)
		c := 0
		for c < len(states) && states[c] == characters[c].States-1 {
			states[c] = 0
			c++
		}
		if c == len(states) {
			return
		}
		states[c]++
	}
}

// TestBitsAreThoseOfInformation: with two hypotheses and next to nothing else, both say the same.
func TestBitsAreThoseOfInformation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spec := drawSpec(t)
		spec.Hypotheses = append(spec.Hypotheses, spec.Hypotheses[0])[:2]
		spec.None = tiny
		accuracy := everywhere(rapid.Float64Range(0.5, 1).Draw(t, "accuracy"), spec)
		m, err := NewModel(spec)
		if err != nil {
			t.Fatal(err)
		}
		l := m.Looks(0, accuracy, nil)
		want := m.Posterior(nil, AnySex, []float64{1, 1}).Information(Onlooker{Accuracy: accuracy})
		for c := range spec.Characters {
			if got := l.Bits(c, 0, 1); !near(got, want[c], 1e-9) {
				t.Fatalf("character %d: %v bits, not %v", c, got, want[c])
			}
		}
	})
}

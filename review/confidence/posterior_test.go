package confidence

import (
	"math"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func near(a, b, tolerance float64) bool { return math.Abs(a-b) <= tolerance }

func total(p []float64) float64 {
	s := 0.0
	for _, v := range p {
		s += v
	}
	return s
}

// TestOrderDoesNotMatter: evidence in any order, reports about one character split up or not.
func TestOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spec := drawSpec(t)
		observations := drawObservations(t, spec)
		m, err := NewModel(spec)
		if err != nil {
			t.Fatal(err)
		}
		var single []Observation
		for _, o := range observations {
			for _, r := range o.Reports {
				single = append(single, Observation{Character: o.Character, Reports: []Report{r}})
			}
		}
		shuffled := rapid.Permutation(single).Draw(t, "order")
		a, b := m.Posterior(observations, AnySex, nil), m.Posterior(shuffled, AnySex, nil)
		for h := range a.P {
			if !near(a.P[h], b.P[h], 1e-12) {
				t.Fatalf("%v became %v", a.P, b.P)
			}
		}
	})
}

// TestOrderDoesNotMatterToTheLastDigit: evidence that is stored can be weighed again and gives the same numbers.
func TestOrderDoesNotMatterToTheLastDigit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spec := drawSpec(t)
		observations := drawObservations(t, spec)
		m, err := NewModel(spec)
		if err != nil {
			t.Fatal(err)
		}
		a, b := m.Posterior(observations, AnySex, nil), m.Posterior(rapid.Permutation(observations).Draw(t, "order"), AnySex, nil)
		if !slices.Equal(a.P, b.P) || !slices.Equal(a.LogLikelihood, b.LogLikelihood) {
			t.Fatalf("%v became %v", a.P, b.P)
		}
	})
}

// TestMemoryIsUsedAgain: what was weighed before leaves no trace, and Probabilities are those of Posterior.
func TestMemoryIsUsedAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spec := drawSpec(t)
		m, err := NewModel(spec)
		if err != nil {
			t.Fatal(err)
		}
		var prior []float64
		if rapid.Bool().Draw(t, "other prior") {
			for range spec.Hypotheses {
				prior = append(prior, rapid.Float64Range(0.1, 10).Draw(t, "prior"))
			}
		}
		var again Posterior
		out := make([]float64, m.Hypotheses())
		for _, p := range [][]float64{nil, prior} {
			observations := drawObservations(t, spec)
			sex := Sex(rapid.IntRange(0, 2).Draw(t, "specimen's sex"))
			fresh := m.Posterior(observations, sex, p)
			m.FillPosterior(&again, observations, sex, p)
			m.Probabilities(observations, sex, p, out)
			if !slices.Equal(fresh.P, again.P) || !slices.Equal(fresh.LogPrior, again.LogPrior) || !slices.Equal(fresh.Seen, again.Seen) {
				t.Fatalf("%v became %v", fresh.P, again.P)
			}
			if !slices.Equal(fresh.P, out) {
				t.Fatalf("the probabilities alone are %v, not %v", out, fresh.P)
			}
		}
	})
}

// TestProbabilitiesAllocateNothing: plain evidence, several reports, a prior of one's own, and evidence that only
// logarithms can hold.
func TestProbabilitiesAllocateNothing(t *testing.T) {
	spec, single := benchmarkSpec()
	m := newModel(t, spec)
	several, unlikely := slices.Clone(single), slices.Clone(single)
	for i := range single {
		r := single[i].Reports[0]
		several[i].Reports = []Report{r, {Kind: Confirmed, State: 1, Accuracy: 0.9, Anchoring: 0.2}, {Kind: Disputed, State: 1, Better: 0, Accuracy: 0.9}}
		unlikely[i].Reports = nil
		for n := range 60 {
			unlikely[i].Reports = append(unlikely[i].Reports, Report{State: n % 2, Accuracy: 0.999})
		}
	}
	prior := make([]float64, len(spec.Hypotheses))
	for h := range prior {
		prior[h] = 1 + float64(h)
	}
	out := make([]float64, m.Hypotheses())
	for name, observations := range map[string][]Observation{"single": single, "several": several, "unlikely": unlikely, "none": nil} {
		for _, p := range [][]float64{nil, prior} {
			require.Zero(t, testing.AllocsPerRun(20, func() { m.Probabilities(observations, AnySex, p, out) }), name)
			requireProbabilities(t, out, name)
		}
	}
	require.Panics(t, func() { m.Probabilities(single, AnySex, nil, out[1:]) })
}

// TestProbabilitiesAtTheSameTime: memory is not shared between computations.
func TestProbabilitiesAtTheSameTime(t *testing.T) {
	spec, observations := benchmarkSpec()
	m := newModel(t, spec)
	var group sync.WaitGroup
	for n := range 8 {
		group.Go(func() {
			out := make([]float64, m.Hypotheses())
			want := m.Posterior(observations[n%5:], AnySex, nil).P
			for range 50 {
				m.Probabilities(observations[n%5:], AnySex, nil, out)
				if !slices.Equal(want, out) {
					t.Errorf("%v became %v", want, out)
				}
			}
		})
	}
	group.Wait()
}

// TestExtremes: contradictory, repeated and impossible evidence, reports of certainty, values that are no number.
func TestExtremes(t *testing.T) {
	spec := Spec{Characters: nominal(2, 3, 1), None: 0.01, Hypotheses: []Hypothesis{
		plain(1e-9, []float64{1, 0}, []float64{1, 0, 0}, []float64{1}), plain(1e9, []float64{0, 1}, nil, nil)}}
	m := newModel(t, spec)
	for name, accuracy := range map[string]float64{"sure": 1, "guess": 0, "above": 7, "none": math.NaN(), "low": -1, "usual": 0.85} {
		for name2, anchoring := range map[string]float64{"none": 0, "full": 1, "odd": math.NaN()} {
			var observations []Observation
			for i := range 500 {
				for c, s := range map[int]int{0: i % 2, 1: i % 3, 2: 0} {
					observations = append(observations, stated(c, s, accuracy), Observation{Character: c, Reports: []Report{
						{Kind: Confirmed, State: s, Accuracy: accuracy, Anchoring: anchoring},
						{Kind: Disputed, State: s, Better: NoState, Accuracy: accuracy, Anchoring: anchoring}}})
				}
			}
			p := m.Posterior(observations, Male, nil)
			requireProbabilities(t, p.P, name+" "+name2)
			w := p.Why(0, p.Rival(0))
			require.False(t, math.IsNaN(w.Total) || math.IsInf(w.Total, 0), name)
		}
	}
}

func requireProbabilities(t *testing.T, p []float64, name string) {
	t.Helper()
	require.InDelta(t, 1, total(p), 1e-9, name)
	for _, v := range p {
		require.Greater(t, v, 0.0, name)
		require.Less(t, v, 1.0, name)
	}
}

// TestNothingSeen: without evidence the posterior is the prior.
func TestNothingSeen(t *testing.T) {
	m := newModel(t, Spec{Characters: nominal(2), None: 0.04, Hypotheses: []Hypothesis{
		plain(1, []float64{1, 0}), plain(3, []float64{0, 1})}})
	require.InDeltaSlice(t, []float64{0.24, 0.72, 0.04}, m.Posterior(nil, AnySex, nil).P, 1e-12)
	require.InDeltaSlice(t, []float64{0.48, 0.48, 0.04}, m.Posterior(nil, AnySex, []float64{5, 5}).P, 1e-12)
}

// TestIgnoranceDoesNotWin: with equal priors, eight right observations of a coded hypothesis beat one of which the
// tables know a single cell, and "none of those listed".
func TestIgnoranceDoesNotWin(t *testing.T) {
	characters := nominal(3, 3, 3, 3, 3, 3, 3, 3, 2)
	unknown := make([][]float64, 9)
	unknown[8] = []float64{0.5, 0.5}
	spec := Spec{Characters: characters, None: 0.02, TableError: 0.01, SharedError: 0.02}
	for h := range 3 {
		var cells [][]float64
		for range 8 {
			cell := []float64{0.1, 0.1, 0.1}
			cell[h] = 0.8
			cells = append(cells, cell)
		}
		spec.Hypotheses = append(spec.Hypotheses, plain(1, append(cells, []float64{0.5, 0.5})...))
	}
	spec.Hypotheses = append(spec.Hypotheses, plain(1, unknown...))
	var observations []Observation
	for c := range 8 {
		observations = append(observations, stated(c, 1, 0.85))
	}
	p := newModel(t, spec).Posterior(observations, AnySex, nil).P
	require.Greater(t, p[1], 0.95)
	require.Less(t, p[3], 0.05)
}

// TestDependence: two characters that say the same count as two with exponent one, and as one with exponent a half.
func TestDependence(t *testing.T) {
	cell := []float64{0.9, 0.1}
	spec := Spec{Characters: nominal(2, 2), None: tiny, Hypotheses: []Hypothesis{
		plain(1, cell, cell), plain(1, []float64{0.3, 0.7}, []float64{0.3, 0.7})}}
	both, one := []Observation{stated(0, 0, 1), stated(1, 0, 1)}, []Observation{stated(0, 0, 1)}
	single := newModel(t, spec).Posterior(one, AnySex, nil)
	double := newModel(t, spec).Posterior(both, AnySex, nil)
	spec.Dependent = []Dependent{{Characters: []int{0, 1}, Exponent: 0.5}}
	m := newModel(t, spec)
	require.InDelta(t, 0.75, single.P[0], 1e-12)
	require.InDelta(t, 0.9, double.P[0], 1e-12) // odds 3 · 3
	require.InDelta(t, 0.75, m.Posterior(both, AnySex, nil).P[0], 1e-12)
	require.InDelta(t, 0.75, m.Posterior(one, AnySex, nil).P[0], 1e-12)
}

// TestSexSelectsForms: a female has no use for a male form.
func TestSexSelectsForms(t *testing.T) {
	forms := []Form{{Weight: 0.6, Cells: [][]float64{{1, 0}}}, {Weight: 0.4, Sex: Male, Cells: [][]float64{{0, 1}}}}
	m := newModel(t, Spec{Characters: nominal(2), None: tiny, Hypotheses: []Hypothesis{
		{Prior: 1, Forms: forms}, plain(1, []float64{0.5, 0.5})}})
	observations := []Observation{stated(0, 0, 1)}
	require.InDelta(t, 0.6/1.1, m.Posterior(observations, AnySex, nil).P[0], 1e-12)
	require.InDelta(t, 0.6/1.1, m.Posterior(observations, Male, nil).P[0], 1e-12)
	require.InDelta(t, 1/1.5, m.Posterior(observations, Female, nil).P[0], 1e-12)
}

// TestReportsSumToOne: what somebody can say adds up to certainty, whatever the state.
func TestReportsSumToOne(t *testing.T) {
	characters := []Character{
		{States: 4, Confused: []Confused{{From: 0, To: 2, Weight: 8}}}, {Kind: Count, States: 6}, {States: 2},
		{States: 3, Ease: [][]float64{{0.3, 40, 1}}}, {Kind: Length, States: 60, Step: 0.06}}
	for _, character := range characters {
		c := newCompiled(character, 0.02)
		for s := range c.states {
			free := 0.0
			for a := range c.states {
				free += c.probability(Report{Kind: Stated, State: a, Accuracy: 0.8}, s)
			}
			require.InDelta(t, 1, free, 1e-12)
			for shown := range c.states {
				r := Report{State: shown, Better: NoState, Accuracy: 0.8, Anchoring: 0.3}
				r.Kind = Confirmed
				confirm := c.probability(r, s)
				r.Kind = Disputed
				require.InDelta(t, 1, confirm+c.probability(r, s), 1e-12)
				require.InDelta(t, 1, confirm+allDisputes(&c, r, s), 1e-12)
				// Who was shown a dispute as well agrees without looking, or looks and disputes.
				disputes := c.probability(r, s)
				r.Kind = Seconded
				require.InDelta(t, r.Anchoring+disputes, c.probability(r, s), 1e-12)
			}
		}
	}
}

// allDisputes sums over every better state that a person who disputes would name.
func allDisputes(c *compiled, r Report, s int) float64 {
	sum := 0.0
	for better := range c.states {
		if better == r.State || c.kind == Length && abs(better-r.State) <= lengthTolerance {
			continue
		}
		r.Better = better
		sum += c.probability(r, s)
	}
	return sum
}

// TestCountsErrByOneStep: nine wrong counts in ten are one off.
func TestCountsErrByOneStep(t *testing.T) {
	m := misreading(Character{Kind: Count, States: 6})
	require.InDeltaSlice(t, []float64{0.1 / 3, 0.45, 0, 0.45, 0.1 / 3, 0.1 / 3}, m[2*6:3*6], 1e-12)
	require.InDelta(t, 0.9, m[1], 1e-12)
}

// TestLengths: percentiles of a log-normal, and bodies of 5 mm against bodies of 20 mm.
func TestLengths(t *testing.T) {
	require.InDelta(t, 0.05, LengthBelow(4, 4, 9), 1e-12)
	require.InDelta(t, 0.5, LengthBelow(6, 4, 9), 1e-12)
	require.InDelta(t, 0.95, LengthBelow(9, 4, 9), 1e-12)
	scale := Scale{Low: 0.2, High: 200, Bins: 100}
	require.Equal(t, []int{0, 0, 50, 99, 99}, []int{scale.Bin(0.01), scale.Bin(0.2), scale.Bin(6.4), scale.Bin(199.9), scale.Bin(1000)})
	small, large := scale.LogNormal(3, 8, 2, 12), scale.LogNormal(12, 30, 8, 60)
	require.InDelta(t, 1, total(small), 1e-12)
	require.Zero(t, small[scale.Bin(14)])
	require.InDelta(t, 1, scale.LogNormal(5, 5, 7, 6)[scale.Bin(5)], 1e-12)
	m := newModel(t, Spec{Characters: []Character{{Kind: Length, States: 100, Step: scale.Step()}}, None: 0.02, TableError: 0.01,
		Hypotheses: []Hypothesis{plain(1, small), plain(1, large)}})
	five := m.Posterior([]Observation{stated(0, scale.Bin(5), 0.1)}, AnySex, nil).P
	require.Greater(t, five[0], 0.8)
	dispute := Observation{Reports: []Report{{Kind: Disputed, State: scale.Bin(5), Better: scale.Bin(20), Anchoring: 0.3}}}
	require.Greater(t, m.Posterior([]Observation{dispute}, AnySex, nil).P[1], 0.8)
}

// TestWhyIsComplete: prior, characters and together make up the log odds; a character that says nothing weighs nothing.
func TestWhyIsComplete(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spec := drawSpec(t)
		for i := range spec.Characters[1:] {
			spec.Dependent = append(spec.Dependent, Dependent{Characters: []int{i, i + 1}, Exponent: 0.6})
		}
		m, err := NewModel(spec)
		if err != nil {
			t.Fatal(err)
		}
		observations := drawObservations(t, spec)
		p := m.Posterior(observations, AnySex, nil)
		rival := p.Rival(0)
		w := p.Why(0, rival)
		sum := w.Prior + w.Together
		for i, v := range w.Characters {
			sum += v
			without := slices.DeleteFunc(slices.Clone(observations), func(o Observation) bool { return o.Character == p.Seen[i] })
			q := m.Posterior(without, AnySex, nil)
			odds := func(p *Posterior) float64 {
				return Decibans(p.LogPrior[0] + p.LogLikelihood[0] - p.LogPrior[rival] - p.LogLikelihood[rival])
			}
			if !near(v, odds(p)-odds(q), 1e-9) {
				t.Fatalf("character %d weighs %v, with it minus without it is %v", p.Seen[i], v, odds(p)-odds(q))
			}
		}
		if !near(sum, w.Total, 1e-9) || !near(w.Total, Decibans(math.Log(p.P[0]/p.P[rival])), 1e-6) {
			t.Fatalf("%+v sums to %v", w, sum)
		}
	})
}

// TestInformationIsExpectedEntropy: bits = entropy now minus the expected entropy after one more report, by trying
// every report.
func TestInformationIsExpectedEntropy(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spec := drawSpec(t)
		m, err := NewModel(spec)
		if err != nil {
			t.Fatal(err)
		}
		observations := drawObservations(t, spec)
		now := m.Posterior(observations, AnySex, nil)
		accuracy := make([]float64, len(spec.Characters))
		for c := range accuracy {
			accuracy[c] = rapid.Float64Range(0.3, 1).Draw(t, "look")
		}
		bits := now.Information(Onlooker{Accuracy: accuracy})
		for c, character := range spec.Characters {
			want := 0.0
			if !slices.Contains(now.Seen, c) {
				want = entropy(now.P)
				for s := range character.States {
					after := m.Posterior(append(slices.Clone(observations), stated(c, s, accuracy[c])), AnySex, nil)
					want -= entropy(after.P) * evidence(after) / evidence(now)
				}
			}
			if !near(bits[c], want, 1e-7) {
				t.Fatalf("character %d: %v bits, expected entropy says %v", c, bits[c], want)
			}
		}
	})
}

// evidence is P(reports).
func evidence(p *Posterior) float64 {
	sum := 0.0
	for h := range p.P {
		sum += math.Exp(p.LogPrior[h] + p.LogLikelihood[h])
	}
	return sum
}

func entropy(p []float64) float64 {
	sum := 0.0
	for _, v := range p {
		sum -= v * math.Log2(v)
	}
	return sum
}

func TestInformationBesideDependent(t *testing.T) {
	spec := Spec{Characters: nominal(2, 2), None: tiny, Hypotheses: []Hypothesis{
		plain(1, []float64{0.5, 0.5}, []float64{1, 0}), plain(1, []float64{0.5, 0.5}, []float64{0, 1})}}
	seen, looks := []Observation{stated(0, 0, 1)}, []float64{1, 1}
	require.InDeltaSlice(t, []float64{0, 1}, newModel(t, spec).Posterior(seen, AnySex, nil).Information(Onlooker{Accuracy: looks}), 1e-9)
	spec.Dependent = []Dependent{{Characters: []int{0, 1}, Exponent: 0.6}}
	require.InDeltaSlice(t, []float64{0, 0.6}, newModel(t, spec).Posterior(seen, AnySex, nil).Information(Onlooker{Accuracy: looks}), 1e-9)
}

func TestBadSpecs(t *testing.T) {
	good := func() Spec {
		return Spec{Characters: nominal(2), None: 0.02, Hypotheses: []Hypothesis{plain(1, []float64{0.5, 0.5})}}
	}
	for want, spoil := range map[string]func(*Spec){
		"outside 0 to 1":             func(s *Spec) { s.TableError = 1 },
		"prior above 0 for none":     func(s *Spec) { s.None = 0 },
		"needs a hypothesis":         func(s *Spec) { s.Hypotheses = nil },
		"0 states":                   func(s *Spec) { s.Characters[0].States = 0 },
		"width of its bins":          func(s *Spec) { s.Characters[0].Kind = Length },
		"is not two states":          func(s *Spec) { s.Characters[0].Confused = []Confused{{From: 0, To: 2, Weight: 1}} },
		"the exponent is 0":          func(s *Spec) { s.Dependent = []Dependent{{Characters: []int{0}}} },
		"the prior weight is NaN":    func(s *Spec) { s.Hypotheses[0].Prior = math.NaN() },
		"the weight is 0":            func(s *Spec) { s.Hypotheses[0].Forms[0].Weight = 0 },
		"forms sum to 0.5":           func(s *Spec) { s.Hypotheses[0].Forms[0].Weight = 0.5 },
		"0 cells for 1 characters":   func(s *Spec) { s.Hypotheses[0].Forms[0].Cells = nil },
		"no distribution over its 2": func(s *Spec) { s.Hypotheses[0].Forms[0].Cells[0] = []float64{0.5, 0.4} },
	} {
		spec := good()
		spoil(&spec)
		_, err := NewModel(spec)
		require.ErrorContains(t, err, want)
	}
	_, err := NewModel(good())
	require.NoError(t, err)
}

func TestPosteriorPanicsOnShortPrior(t *testing.T) {
	m := newModel(t, Spec{Characters: nominal(2), None: 0.02, Hypotheses: []Hypothesis{plain(1, []float64{0.5, 0.5})}})
	require.Panics(t, func() { m.Posterior(nil, AnySex, []float64{1, 2}) })
}

// TestLogarithm: the table agrees with the library over all magnitudes.
func TestLogarithm(t *testing.T) {
	require.Zero(t, plogp(0))
	require.InDelta(t, 0, plogp(1), 1e-15)
	for p := 1e-299; p < 1; p *= 1.013 {
		want := p * math.Log(p)
		require.InDelta(t, 1, plogp(p)/want, 1e-12, p)
	}
}

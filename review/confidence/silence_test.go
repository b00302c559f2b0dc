package confidence

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestSilenceByHand: half of the beetles of one hypothesis have a snout, none of the other. A snout is mentioned three times
// in four, its absence one time in twenty: 0.5 · 0.25 + 0.5 · 0.95 = 0.6 against 0.95. A third hypothesis, all of whose beetles
// have one, has 0.25, which is kept from falling below 0.95 / √10.
func TestSilenceByHand(t *testing.T) {
	m := newModel(t, Spec{Characters: nominal(2), None: tiny, Hypotheses: []Hypothesis{
		plain(1, []float64{0.5, 0.5}), plain(1, []float64{0, 1}), plain(1, []float64{1, 0})}})
	var p Posterior
	m.FillPosteriorOf(&p, Evidence{Silences: []Silence{{Character: 0, Unmentioned: []float64{0.25, 0.95}}}})
	third := 0.95 / math.Sqrt(10)
	require.InDelta(t, 0.6/(0.6+0.95+third), p.P[0], 1e-9)
	require.InDelta(t, 0.95/(0.6+0.95+third), p.P[1], 1e-9)
	w := p.Why(0, 1)
	require.Empty(t, w.Characters)
	require.InDelta(t, Decibans(math.Log(0.6/0.95)), w.Silences[0], 1e-9)
	require.InDelta(t, 0, w.Together, 1e-9)
	require.InDelta(t, w.Total, w.Silences[0], 1e-9)
}

// TestSilencesTogether: three silences of 5 decibans each come to no more than 10 together.
func TestSilencesTogether(t *testing.T) {
	yes, no := []float64{1, 0}, []float64{0, 1}
	m := newModel(t, Spec{Characters: nominal(2, 2, 2), None: tiny, Hypotheses: []Hypothesis{plain(1, yes, yes, yes), plain(1, no, no, no)}})
	silent := func(characters ...int) float64 {
		var e Evidence
		for _, c := range characters {
			e.Silences = append(e.Silences, Silence{Character: c, Unmentioned: []float64{0.01, 0.99}})
		}
		var p Posterior
		m.FillPosteriorOf(&p, e)
		return Decibans(p.LogLikelihood[1] - p.LogLikelihood[0])
	}
	require.InDelta(t, 5, silent(0), 1e-9)
	require.InDelta(t, 10, silent(0, 1), 1e-9)
	require.InDelta(t, 10, silent(0, 1, 2), 1e-9)
}

// TestSilenceBesideReports: somebody else says with an accuracy of 0.8 that there is a snout, in words of the first example: 0.5 ·
// 0.8 + 0.5 · 0.2 = 0.5 and 0.2 by the report alone, 0.5 · 0.8 · 0.25 + 0.5 · 0.2 · 0.95 = 0.195 and 0.2 · 0.95 = 0.19 with the
// silence in the same sum over the true state.
func TestSilenceBesideReports(t *testing.T) {
	m := newModel(t, Spec{Characters: nominal(2), None: tiny, Hypotheses: []Hypothesis{
		plain(1, []float64{0.5, 0.5}), plain(1, []float64{0, 1})}})
	var p Posterior
	m.FillPosteriorOf(&p, Evidence{Observations: []Observation{{Character: 0, Reports: []Report{{State: 0, Accuracy: 0.8}}}},
		Silences: []Silence{{Character: 0, Unmentioned: []float64{0.25, 0.95}}}})
	require.InDelta(t, 0.195/0.19, p.P[0]/p.P[1], 1e-9)
	w := p.Why(0, 1)
	require.InDelta(t, Decibans(math.Log(0.5/0.2)), w.Characters[0], 1e-9)
	require.InDelta(t, Decibans(math.Log(0.195/0.5/0.95)), w.Silences[0], 1e-9)
	require.InDelta(t, 0, w.Together, 1e-9)
}

// TestTaughtSilences: what data have taught is not held to the bounds of what is assumed, which hold for the rest.
func TestTaughtSilences(t *testing.T) {
	yes, no := []float64{1, 0}, []float64{0, 1}
	m := newModel(t, Spec{Characters: nominal(2, 2), None: tiny, Hypotheses: []Hypothesis{plain(1, yes, yes), plain(1, no, no)}})
	var p Posterior
	m.FillPosteriorOf(&p, Evidence{Silences: []Silence{{Character: 0, Unmentioned: []float64{0.02, 1}, Taught: true},
		{Character: 1, Unmentioned: []float64{0.01, 1}}}})
	require.InDelta(t, Decibans(math.Log(50))+5, Decibans(p.LogLikelihood[1]-p.LogLikelihood[0]), 1e-9)
	w := p.Why(1, 0)
	require.InDelta(t, Decibans(math.Log(50)), w.Silences[0], 1e-9)
	require.InDelta(t, 5, w.Silences[1], 1e-9)
}

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

package judgement

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// A green tortoise beetle, as anybody would describe it: round, flat-rimmed, head and legs covered (common practice, no
// source).
func TestFormIsAnAnswer(t *testing.T) {
	tortoise := stated("head-from-above=hidden", "body-form=broad", "antenna-form=filiform", "tarsi-counted=4-4-4", "tarsus-lobed=yes",
		"body-length-mm=7", "rostrum=none", "antenna-insertion=front-of-head", "tarsi-true=4-4-4")
	a := shipped().Assess(Evidence{Stated: tortoise})
	require.Equal(t, "Chrysomelidae", a.Ranking[0].Family)
	require.Equal(t, "Chrysomelidae", a.Forms[0].Family)
	require.Equal(t, "cassidine", a.Forms[0].Form)
	require.Greater(t, a.Forms[0].P, 0.8)
	sum := 0.0
	for i, f := range a.Forms {
		sum += f.P
		require.NotEmpty(t, f.Form)
		require.True(t, i == 0 || a.Forms[i-1].P >= f.P)
	}
	require.InDelta(t, 1, sum, 1e-4)
	require.LessOrEqual(t, len(a.Brief().Forms), 3)
	require.Equal(t, a.Forms[0], a.Brief().Forms[0])
}

// Bayes' rule by hand, on the made-up family of three forms. A member says "thread", and reads right in 0.85; of a saw the
// errors go to thread in four of five. Plain ones and males show a thread in 12 of 87, many-segmented ones always:
// 0.6 and 0.2 times (0.862 · 0.15 · 0.8 + 0.138 · 0.85) against 0.2 · 0.85. The errors of tables and photos move it by a few
// hundredths.
func TestFormsByHand(t *testing.T) {
	a := madeUp().Assess(Evidence{Family: "Aidae", Stated: stated("antenna=thread"), Prior: map[string]float64{"Aidae": 1}})
	require.Equal(t, "Aidae", a.Ranking[0].Family)
	saw, thread := 75.0/87, 12.0/87
	mostly, always := saw*0.15*0.8+thread*0.85, 0.85
	total := 0.8*mostly + 0.2*always
	require.Len(t, a.Forms, 3)
	for i, want := range []struct {
		form string
		p    float64
	}{{"many", 0.2 * always / total}, {"plain", 0.6 * mostly / total}, {"males", 0.2 * mostly / total}} {
		require.Equal(t, want.form, a.Forms[i].Form)
		require.InDelta(t, want.p, a.Forms[i].P, 0.04)
	}
}

func TestNoFormsWhereThereIsNothingToSay(t *testing.T) {
	require.Empty(t, madeUp().Assess(Evidence{}).Forms, "nothing is stated")
	one := madeUp().Assess(Evidence{Stated: stated("spine=fixed", "length-mm=35")})
	require.Equal(t, "Bidae", one.Ranking[0].Family)
	require.Empty(t, one.Forms, "one form alone")
	female := madeUp().Assess(Evidence{Sex: "female", Stated: stated("antenna=saw", "spine=free", "length-mm=12")})
	for _, f := range female.Forms {
		require.NotEqual(t, "males", f.Form, "not of the other sex")
	}
	require.NotEmpty(t, female.Forms)
}

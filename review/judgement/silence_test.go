package judgement

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/confidence"
)

// told is evidence that one observer told freely.
func told(words ...string) Evidence {
	e := Evidence{Stated: stated(words...)}
	var list []string
	for _, s := range e.Stated {
		list = append(list, s.Character)
	}
	e.Free = []FreeList{{Mentioned: list}}
	return e
}

func silenceOf(a Assessment, character string) (Weight, bool) {
	at := slices.IndexFunc(a.Why, func(w Weight) bool { return w.Character == character && w.OfSilence() })
	if at < 0 {
		return Weight{}, false
	}
	return a.Why[at], true
}

// TestSilence: who describes a head and says nothing of a snout has most likely seen none, whoever is asked for single
// characters tells nothing by what was not asked, and regions of which nothing was said tell nothing either.
func TestSilence(t *testing.T) {
	j := shipped()
	words := []string{"head-from-above=visible", "tarsi-counted=4-4-4", "tarsus-lobed=yes", "body-length-mm=8"}
	free := told(words...)
	free.Family = "Curculionidae"
	asked := free
	asked.Free = nil
	a, b := j.Assess(free), j.Assess(asked)
	require.Less(t, a.Confidence, b.Confidence)
	snout, said := silenceOf(a, "rostrum")
	require.True(t, said)
	require.True(t, snout.Silent)
	require.Negative(t, snout.Decibans)
	_, said = silenceOf(b, "rostrum")
	require.False(t, said)
	_, said = silenceOf(a, "light-organ")
	require.False(t, said, "nothing was said of the underside")
	sum := 0.0
	for _, w := range a.Why {
		sum += w.Decibans
	}
	require.InDelta(t, a.Odds, sum, 0.01)

	mentioned := told(append(words, "rostrum=none")...)
	_, said = silenceOf(j.Assess(mentioned), "rostrum")
	require.False(t, said)
}

// TestSilenceIsBounded: no silence weighs more than 5 decibans, and all of them together no more than 10, for any two families.
func TestSilenceIsBounded(t *testing.T) {
	j := shipped()
	free := told("head-from-above=visible", "antenna-segments=11", "ventrites=5", "elytra-texture=hard", "claws=simple", "pygidium=covered",
		"body-length-mm=6", "pronotum-width=equal")
	asked := free
	asked.Free = nil
	p, q := j.Posterior(free), j.Posterior(asked)
	require.Greater(t, len(p.Silences()), 12)
	least, most := math.Inf(1), math.Inf(-1)
	for h := range p.P {
		d := 10 * (p.LogLikelihood[h] - q.LogLikelihood[h]) / math.Ln10
		least, most = min(least, d), max(most, d)
	}
	require.LessOrEqual(t, most-least, 10+1e-9)
	require.Greater(t, most-least, 5.0)

	for character, unmentioned := range j.unmentioned {
		if unmentioned == nil {
			continue
		}
		g := j.gather(asked)
		g.observations = slices.DeleteFunc(g.observations, func(o confidence.Observation) bool { return o.Character == character })
		alone := j.model.Posterior(g.observations, g.sex, nil)
		g.addSilence(confidence.Silence{Character: character, Unmentioned: unmentioned})
		var hushed confidence.Posterior
		j.model.FillPosteriorOf(&hushed, g.weighed(nil))
		least, most = math.Inf(1), math.Inf(-1)
		for h := range hushed.P {
			d := 10 * (hushed.LogLikelihood[h] - alone.LogLikelihood[h]) / math.Ln10
			least, most = min(least, d), max(most, d)
		}
		require.LessOrEqual(t, most-least, 5+1e-9, j.tables.Characters[character].ID)
	}
}

// TestSilenceBesideOthers: that a member says nothing of a snout tells something, too, where somebody else has stated one, and
// nothing more where it was the same member, being asked.
func TestSilenceBesideOthers(t *testing.T) {
	j := shipped()
	free := told("head-from-above=visible", "tarsi-counted=4-4-4", "body-length-mm=8")
	free.Stated = append(free.Stated, stated("rostrum=short-broad")...)
	silent := func(e Evidence) bool {
		rostrum := j.tables.CharacterIndex("rostrum")
		return slices.ContainsFunc(j.Posterior(e).Silences(), func(s confidence.Silence) bool { return s.Character == rostrum })
	}
	require.True(t, silent(free))
	own := free
	own.Free = []FreeList{{Mentioned: free.Free[0].Mentioned, Since: []string{"rostrum"}}}
	require.False(t, silent(own))
	at := j.tables.FamilyIndex("Curculionidae")
	require.Less(t, j.Posterior(free).P[at], j.Posterior(own).P[at])
}

// TestTaughtRates: what a club's lists have taught takes the place of the tables' rate, and says on how many specimens it rests.
func TestTaughtRates(t *testing.T) {
	j := shipped()
	e := told("head-from-above=visible", "tarsi-counted=4-4-4", "tarsus-lobed=yes", "body-length-mm=8")
	e.Family = "Curculionidae"
	assumed := j.Assess(e)
	e.Mentions = map[string]Mention{"rostrum": {Rates: []float64{0.02, 0.6, 0.97}, Specimens: 60, Taught: true}}
	taught := j.Assess(e)
	require.Less(t, taught.Confidence, assumed.Confidence)
	snout, said := silenceOf(taught, "rostrum")
	require.True(t, said)
	require.Equal(t, 60, snout.Specimens)
	require.Less(t, snout.Decibans, -5.0)
	before, _ := silenceOf(assumed, "rostrum")
	require.Zero(t, before.Specimens)
}

// TestSilenceOfWhatIsBeside: the antenna sits on the head, and on the snout where there is a long one: who tells of the one and says
// nothing of the other has seen none, while legs alone tell nothing of it.
func TestSilenceOfWhatIsBeside(t *testing.T) {
	j := shipped()
	e := told("antenna-form=capitate", "tarsi-counted=4-4-4", "body-length-mm=8")
	e.Family = "Curculionidae"
	snout, said := silenceOf(j.Assess(e), "rostrum")
	require.True(t, said)
	require.Negative(t, snout.Decibans)
	e = told("tarsi-counted=4-4-4", "body-length-mm=8")
	e.Family = "Curculionidae"
	_, said = silenceOf(j.Assess(e), "rostrum")
	require.False(t, said)
}

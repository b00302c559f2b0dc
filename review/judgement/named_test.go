package judgement

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func betterFits(a Assessment) []Contradiction {
	var found []Contradiction
	for _, c := range a.Contradictions {
		if c.Kind == BetterFit {
			found = append(found, c)
		}
	}
	return found
}

// A rival is named when it leads or comes close, never one that is itself a fraction of the first.
func TestRivalsLeadOrComeClose(t *testing.T) {
	flagged := 0
	everyCase(t, func(c specimenCase) {
		a := shipped().Assess(c.evidence())
		for _, flag := range betterFits(a) {
			flagged++
			p := map[string]float64{}
			for _, r := range a.Ranking {
				p[r.Family] = r.P
			}
			require.GreaterOrEqual(t, p[flag.Family], a.Ranking[0].P/5-1e-6, "%s as %s: %v", c.Species, a.Family, flag)
		}
	})
	require.Greater(t, flagged, 50)
}

// A weevil called a ground beetle: a person names the snout, not the length (common practice, no source).
func TestAPersonNamesTheSnout(t *testing.T) {
	for _, family := range []string{"Carabidae", "Anthribidae", "Nitidulidae", "Staphylinidae", "Elateridae"} {
		for _, length := range []string{"2.5", "3", "12"} {
			a := shipped().Assess(Evidence{Family: family, Stated: stated("rostrum=long", "antenna-form=capitate", "body-length-mm="+length, "body-form=oval")})
			for _, flag := range betterFits(a) {
				require.NotEqual(t, "body-length-mm", flag.Character, "%s of %s mm: %v", family, length, flag)
			}
			if family == "Carabidae" {
				require.Len(t, betterFits(a), 1)
				require.Equal(t, "rostrum", betterFits(a)[0].Character)
			}
		}
	}
}

// What partly says the same is told where it moves the odds, with how far; a pair that tells next to nothing is not.
func TestPartlyTheSameWhereItMatters(t *testing.T) {
	matters := shipped().Assess(Evidence{Family: "Coccinellidae", Stated: stated("antenna-form=lamellate", "antenna-club-segments=3", "tarsi-counted=5-5-5")})
	same, ok := caveatOf(matters, CaveatSame)
	require.True(t, ok)
	require.Equal(t, []string{"antenna-form", "antenna-club-segments"}, same.Characters)
	said, pairs := 0, 0
	everyCase(t, func(c specimenCase) {
		a := shipped().Assess(c.evidence())
		pairs++
		if _, ok := caveatOf(a, CaveatSame); ok {
			said++
		}
		for _, caveat := range a.Caveats {
			require.True(t, caveat.Kind != CaveatSame || caveat.Decibans > 0, c.Species)
		}
	})
	require.Less(t, said, pairs, "it is not said always")
	t.Logf("said of %d of %d", said, pairs)
}

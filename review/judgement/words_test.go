package judgement

import (
	"strings"
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
			require.GreaterOrEqual(t, p[flag.Family], a.Ranking[0].P/5-1e-6, "%s as %s: %s", c.Species, a.Family, flag.Reason)
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
				require.NotEqual(t, "body-length-mm", flag.Character, "%s of %s mm: %s", family, length, flag.Reason)
			}
			if family == "Carabidae" {
				require.Len(t, betterFits(a), 1)
				require.Equal(t, "rostrum", betterFits(a)[0].Character)
			}
		}
	}
}

// Where a length is all there is, it is named with its unit, everywhere.
func TestLengthsHaveUnits(t *testing.T) {
	a := shipped().Assess(Evidence{Family: "Ptiliidae", Stated: stated("body-length-mm=60", "lustre=not-metallic")})
	require.NotEmpty(t, a.Contradictions)
	for _, c := range a.Contradictions {
		require.NotContains(t, strings.ReplaceAll(c.Reason, "60 mm", ""), "60", c.Reason)
	}
	require.Contains(t, a.Contradictions[0].Reason, "Body length of 60 mm")
}

// Two states that are equally common are not "mostly" one of them. In the made-up Cidae outlines are not recorded; the words are
// tried on cells of the shipped tables.
func TestEqualSharesAreNotMostly(t *testing.T) {
	j := shipped()
	tried := 0
	for i := range j.tables.Families {
		family := &j.tables.Families[i]
		s := &scratch{}
		s.gathered.family, s.gathered.hypothesis = family, i
		for k := range j.tables.Characters {
			c := &j.tables.Characters[k]
			if len(c.States) == 0 || !records(family, c.ID) {
				continue
			}
			f := Finding{Character: c, Index: k, ID: c.States[0].ID}
			shares := make([]float64, len(c.States))
			first, second := 0.0, 0.0
			for state := range shares {
				p, _ := family.Share(c.ID, state)
				if p > first {
					first, second = p, first
				} else if p > second {
					second = p
				}
			}
			words := string(j.appendUsual(nil, s, &f, j.formsOf(&s.gathered)))
			if first-second < 1e-9 || first <= 0.5-1e-9 {
				tried++
				require.NotContains(t, words, "mostly", "%s %s", family.Name, c.ID)
			}
			if first > 0.75 {
				require.True(t, strings.HasPrefix(words, "mostly "), "%s %s: %s", family.Name, c.ID, words)
			}
		}
	}
	require.Greater(t, tried, 50)
}

// What partly says the same is told where it moves the odds, with how far; a pair that tells next to nothing is not.
func TestPartlyTheSameWhereItMatters(t *testing.T) {
	matters := shipped().Assess(Evidence{Family: "Coccinellidae", Stated: stated("antenna-form=lamellate", "antenna-club-segments=3", "tarsi-counted=5-5-5")})
	require.Contains(t, strings.Join(matters.Warnings, "\n"), "antenna-form and antenna-club-segments partly say the same, so that each counts less: together by about ")
	said, pairs := 0, 0
	everyCase(t, func(c specimenCase) {
		a := shipped().Assess(c.evidence())
		pairs++
		if strings.Contains(strings.Join(a.Warnings, "\n"), "partly say the same") {
			said++
		}
		for _, w := range a.Warnings {
			require.NotContains(t, w, "by about 0 decibans", c.Species)
		}
	})
	require.Less(t, said, pairs, "it is not said always")
	t.Logf("said of %d of %d", said, pairs)
}

package review

import (
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/confidence"
)

// bitsOf is the gain of what to check next, by character.
func bitsOf(next []Next) map[string]float64 {
	found := map[string]float64{}
	for _, n := range next {
		found[n.Character] = n.Bits
	}
	return found
}

// A look by somebody who is often wrong about antennae tells less there and as much as anybody's elsewhere; what is
// stored does not depend on who asks.
func TestNextIsForTheOneWhoAsks(t *testing.T) {
	j := madeUp()
	people := &Reliability{People: map[string]PersonKnown{"rita": {Role: RoleReviewer, Regions: map[string]confidence.KnownAccuracy{
		"antenna": {Right: 11, Wrong: 9, Verdicts: 20}}}}}
	spec := &Specimen{ID: "sp", Owner: "ada"}
	sub := &Submission{ID: "su", Specimen: "sp", Owner: "ada", Status: StatusOpen, Determination: Determination{Family: "Aidae"}}
	ask := func(who string, role Role) map[string]float64 {
		now := &situation{Moment: Moment{Actor: Actor{Person: who, Role: role}}, submission: sub, specimen: spec, people: people, judge: j}
		return bitsOf(now.assessFor(j, sub, nil).Next)
	}
	stored := bitsOf((&situation{submission: sub, specimen: spec, people: people, judge: j}).assess(sub, nil).Next)
	require.NotZero(t, stored["antenna"])
	require.NotZero(t, stored["spine"])

	hers := ask("rita", RoleReviewer)
	require.Less(t, hers["antenna"], stored["antenna"])
	require.InDelta(t, stored["spine"], hers["spine"], 0)
	require.Equal(t, stored, ask("rolf", RoleReviewer), "nothing is known of him")
	require.Equal(t, stored, ask("rita", RoleMember), "members look at what a reviewer would be told")
}

// The made-up families have 100, 400 and 100 species: 10, 20 and 10 parts of what "none of them" (2 %) leaves.
func TestPriors(t *testing.T) {
	priors := func(list map[string]float64) map[string]float64 {
		found, sum := map[string]float64{}, 0.0
		for _, r := range madeUp().Priors(list) {
			found[r.Family] = r.P
			sum += r.P
		}
		require.InDelta(t, 1, sum, 1e-6)
		return found
	}
	bare := priors(nil)
	require.InDelta(t, 0.02, bare[NoneOfThese], 1e-9)
	require.InDelta(t, 0.98/4, bare["Aidae"], 1e-6)
	require.InDelta(t, 0.98/2, bare["Bidae"], 1e-6)
	require.Equal(t, bare, priors(map[string]float64{"Elsewheridae": 5}), "a list that names none of these leaves them as they are")
	// 30 and 10 parts; Cidae, alone not on the list, a fiftieth of these: 0.8 of 40.8.
	mine := priors(map[string]float64{"Aidae": 30, "Bidae": 10})
	require.InDelta(t, 0.98*30/40.8, mine["Aidae"], 1e-6)
	require.InDelta(t, 0.98*0.8/40.8, mine["Cidae"], 1e-6)
}

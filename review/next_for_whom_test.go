package review

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// bitsOf is the gain of what to check next, by character.
func bitsOf(next []judgement.Next) map[string]float64 {
	found := map[string]float64{}
	for _, n := range next {
		found[n.Character] = n.Bits
	}
	return found
}

// A look by somebody who is often wrong about antennae tells less there and as much as anybody's elsewhere; what is
// stored does not depend on who asks.
func TestNextIsForTheOneWhoAsks(t *testing.T) {
	tables, problems := diagnosis.Load(os.DirFS("judgement/testdata/tables"))
	require.Empty(t, problems)
	j := NewJudge(tables)
	people := &Reliability{People: map[string]PersonKnown{"rita": {Role: RoleReviewer, Regions: map[string]confidence.KnownAccuracy{
		"antenna": {Right: 11, Wrong: 9, Verdicts: 20}}}}}
	spec := &Specimen{ID: "sp", Owner: "ada"}
	sub := &Submission{ID: "su", Specimen: "sp", Owner: "ada", Status: StatusOpen, Determination: Determination{Family: "Aidae"}}
	ask := func(who string, role Role) map[string]float64 {
		now := &Dossier{Moment: Moment{Actor: Actor{Person: who, Role: role}}, Submission: sub, Specimen: spec, People: people, Judge: j}
		return bitsOf(now.AssessFor(j, sub, nil).Next)
	}
	stored := bitsOf((&Dossier{Submission: sub, Specimen: spec, People: people, Judge: j}).assess(sub, nil).Next)
	require.NotZero(t, stored["antenna"])
	require.NotZero(t, stored["spine"])

	hers := ask("rita", RoleReviewer)
	require.Less(t, hers["antenna"], stored["antenna"])
	require.InDelta(t, stored["spine"], hers["spine"], 0)
	require.Equal(t, stored, ask("rolf", RoleReviewer), "nothing is known of him")
	require.Equal(t, stored, ask("rita", RoleMember), "members look at what a reviewer would be told")
}

// A look by somebody who says too readily what is striking tells less about a light organ, and as much as anybody's about what has no
// striking state; what is stored does not depend on who asks.
func TestNextKnowsHowSomebodyLeans(t *testing.T) {
	j := NewJudge(diagnosis.Default())
	known := func(blind int) PersonKnown {
		return PersonKnown{Role: RoleReviewer, Anchoring: confidence.KnownAnchoring{Unlooked: 4, Looked: 16, Shown: 100, Blind: blind},
			Leaning: &confidence.KnownLeaning{Toward: 40, Against: 10}}
	}
	people := &Reliability{People: map[string]PersonKnown{"lena": known(confidence.BlindChecks), "nora": known(confidence.BlindChecks - 1)}}
	sub := &Submission{ID: "su", Specimen: "sp", Owner: "ada", Status: StatusOpen, Determination: Determination{Family: "Lampyridae"}}
	ask := func(who string) map[string]float64 {
		now := &Dossier{Moment: Moment{Actor: Actor{Person: who, Role: RoleReviewer}}, Submission: sub, Specimen: &Specimen{ID: "sp", Owner: "ada"}, People: people, Judge: j}
		return bitsOf(now.AssessFor(j, sub, nil).Next)
	}
	hers, theirs := ask("lena"), ask("nora")
	require.NotZero(t, theirs["light-organ"])
	require.NotZero(t, theirs["ventrites"])
	require.Less(t, hers["light-organ"], theirs["light-organ"])
	require.InDelta(t, theirs["ventrites"], hers["ventrites"], 0)
	require.Equal(t, ask("rolf"), theirs, "too few blind checks to say how she leans")
}

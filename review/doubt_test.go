package review

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// waiting is the click beetle of clickBeetle before reviewers, as one who has not looked finds it.
func waiting(person string, family string) *Dossier {
	sub, spec := clickBeetle()
	sub.Status, sub.Determination.Family = StatusOpen, family
	for i := range spec.Observations {
		spec.Observations[i].Role = RoleMember
	}
	return &Dossier{Moment: Moment{Actor: Actor{Person: person, Role: RoleReviewer}}, Submission: &sub, Specimen: &spec, Siblings: []Submission{sub},
		Policy: DefaultPolicy(), Judge: beetles}
}

func kindsOf(doubts []Doubt) []DoubtKind {
	var kinds []DoubtKind
	for _, d := range doubts {
		kinds = append(kinds, d.Kind)
	}
	return kinds
}

func TestDoubts(t *testing.T) {
	agree := &OpinionForm{Kind: OpinionAgrees, Basis: BasisPhotos}
	all := func(kind VerdictKind) ReviewForm {
		form := ReviewForm{Opinion: agree}
		_, spec := clickBeetle()
		for _, o := range spec.Observations {
			form.Verdicts = append(form.Verdicts, VerdictForm{Observation: o.ID, Kind: kind})
		}
		return form
	}
	require.Empty(t, Doubts(waiting("r", "Elateridae"), all(VerdictConfirm)))
	require.Empty(t, Doubts(waiting("r", "Elateridae"), ReviewForm{}), "what is refused is not asked about")

	part := all(VerdictConfirm)
	part.Verdicts = part.Verdicts[:2]
	require.Equal(t, []Doubt{{Kind: DoubtPartly, Looked: 2, Of: 6}}, Doubts(waiting("r", "Elateridae"), part))
	opened := waiting("r", "Elateridae")
	opened.Submission.Opinions = []Opinion{{Kind: OpinionLeftOpen, By: "r"}}
	require.Empty(t, Doubts(opened, part), "nothing is left to open")
	own := waiting("r", "Elateridae")
	for i := 2; i < 6; i++ {
		own.Specimen.Observations[i].By = "r"
	}
	require.Empty(t, Doubts(own, part), "one's own are for others")

	far := Doubts(waiting("r", "Carabidae"), all(VerdictConfirm))
	require.Equal(t, DoubtFar, far[0].Kind)
	require.Less(t, far[0].P, 0.01)
	require.Equal(t, "Elateridae", far[0].Rival)

	against := all(VerdictConfirm)
	for i, better := range []string{"absent-or-short", "filiform", "not-pointed"} {
		against.Verdicts[i].Kind, against.Verdicts[i].Better = VerdictDispute, better
	}
	doubts := Doubts(waiting("r", "Elateridae"), against)
	require.Contains(t, kindsOf(doubts), DoubtAgainst)
	require.GreaterOrEqual(t, doubts[len(doubts)-1].Factor, 2.0)
	one := all(VerdictConfirm)
	one.Verdicts[0] = against.Verdicts[0]
	require.Empty(t, Doubts(waiting("r", "Elateridae"), one), "what is confirmed beside it outweighs it")
	against.Opinion = &OpinionForm{Kind: OpinionLeftOpen, Basis: BasisPhotos}
	require.Empty(t, Doubts(waiting("r", "Elateridae"), against))
	another := all(VerdictConfirm)
	another.Opinion = &OpinionForm{Kind: OpinionAnother, Family: "Carabidae", Basis: BasisPhotos}
	require.Equal(t, []DoubtKind{DoubtAgainst}, kindsOf(Doubts(waiting("r", "Elateridae"), another)))
}

// What is sealed tells nothing: the same is asked whatever others have said.
func TestDoubtsKeepTheSeal(t *testing.T) {
	form := ReviewForm{Opinion: &OpinionForm{Kind: OpinionAgrees, Basis: BasisPhotos}, Verdicts: []VerdictForm{{Observation: "ventrites", Kind: VerdictConfirm}}}
	before := Doubts(waiting("r", "Elateridae"), form)
	told := waiting("r", "Elateridae")
	told.Submission.Verdicts = []Verdict{{Observation: "prosternal-process", Kind: VerdictDispute, Better: "absent-or-short", By: "x", Role: RoleReviewer}}
	require.Equal(t, before, Doubts(told, form))
}

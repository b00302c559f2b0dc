package review

import (
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// TestWiderAnswers: they are checked by the tables of the wider group, once for each character, and a revision without any leaves
// a draft as it is.
func TestWiderAnswers(t *testing.T) {
	all := diagnosis.All()
	judge := NewJudge(all[0])
	answer := []WiderAnswer{{Character: "forewing-texture", State: "nosuch"}}
	var p Problems
	checkWider(&p, judge, answer)
	require.ErrorContains(t, p.Err(), "no wider group")
	for _, tables := range all {
		judge.Widen(NewJudge(tables))
	}
	p = nil
	checkWider(&p, judge, answer)
	require.ErrorContains(t, p.Err(), "has no state")
	good := WiderAnswer{Character: judge.WiderQuestions()[0].Character}
	for _, tables := range all {
		if c, ok := tables.Character(good.Character); ok {
			good.State = c.States[0].ID
		}
	}
	p = nil
	checkWider(&p, judge, []WiderAnswer{good})
	require.NoError(t, p.Err())
	checkWider(&p, judge, []WiderAnswer{good, good})
	require.ErrorContains(t, p.Err(), "twice")

	s := Submission{}
	s.propose(Proposal{Group: "g", Wider: []WiderAnswer{good}})
	same := Proposal{Group: "g", Cites: []string{}, Photos: []string{}, Wider: []WiderAnswer{good}}
	require.Empty(t, s.Revised(same))
	without := same
	without.Wider = []WiderAnswer{}
	require.Equal(t, []Change{&Revised{Proposal: Proposal{Group: "g", Cites: []string{}, Photos: []string{}}}}, s.Revised(without))
	form, err := Revision{}.Of(&Dossier{Submission: &s, Specimen: &Specimen{}})
	require.NoError(t, err)
	require.Equal(t, []WiderAnswer{good}, form.Wider)
	e := Weighing{}.Evidence(&s, &Specimen{}, nil, all[0])
	require.Equal(t, good.Character, e.Wider[0].Character)
}

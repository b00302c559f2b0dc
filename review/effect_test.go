package review

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// clickBeetle is a submission that the shipped tables carry, common practice, no source.
func clickBeetle() (Submission, Specimen) {
	spec := Specimen{ID: "s", Label: Label{CatalogueNumber: "A-1"}}
	sub := Submission{ID: "u", Specimen: "s", Owner: "o", Status: StatusConfirmed, Determination: Determination{Family: "Elateridae", Determiner: "o"}}
	for _, o := range [][2]string{{"prosternal-process", "click-spine"}, {"antenna-form", "serrate"}, {"pronotum-hind-corners", "pointed"},
		{"tarsi-counted", "5-5-5"}, {"ventrites", "5"}, {"hind-coxal-plates", "narrow"}} {
		spec.Observations = append(spec.Observations, Observation{ID: o[0], Character: o[0], State: o[1], Sureness: Sure, By: "o", Role: RoleReviewer})
		sub.Cites = append(sub.Cites, o[0])
	}
	return sub, spec
}

func TestCompareTellsWhatAChangedCellPutsInDoubt(t *testing.T) {
	present := NewJudge(diagnosis.Default())
	edited, err := diagnosis.Edited(diagnosis.Files(diagnosis.Beetles), []diagnosis.CellEdit{{Family: "Elateridae", Character: "prosternal-process",
		States:   []diagnosis.StateWord{{State: "absent-or-short", Word: "always"}, {State: "rest", Word: "never"}},
		Citation: diagnosis.Citation{Source: "arnett-2002", Place: "chapter Elateridae", Basis: diagnosis.BasisMemory}}})
	require.NoError(t, err)
	tables, problems := diagnosis.Load(edited)
	require.Empty(t, problems)
	other := NewJudge(tables)
	sub, spec := clickBeetle()
	now := &Dossier{Submission: &sub, Specimen: &spec, Siblings: []Submission{sub}, Policy: DefaultPolicy()}

	a, changed := now.Compare(present, other)
	require.True(t, changed)
	require.Greater(t, a.Before, 0.8)
	require.Less(t, a.After, 0.5)
	require.Contains(t, a.Appeared, Code("flag-state", "kind", "unusual", "character", "prosternal-process", "state", "click-spine"), "a form still shows it")
	require.True(t, slices.ContainsFunc(a.Because, func(c Coded) bool { return c.Code == "doubt-lead" && c.About["hypothesis"] != "Elateridae" }))
	require.Equal(t, "A-1", a.CatalogueNumber)

	same, changed := now.Compare(present, present)
	require.False(t, changed)
	require.Equal(t, same.Before, same.After)
}

func TestEffectCountsAllAndShowsTheDoubtedFirst(t *testing.T) {
	e := Effect{}
	e.Add(Affected{Submission: "little", Before: 0.9, After: 0.89})
	e.Add(Affected{Submission: "much", Before: 0.9, After: 0.2})
	e.Add(Affected{Submission: "doubted", Before: 0.9, After: 0.88, Because: []Coded{Code("doubt-lead")}})
	e.Add(Affected{Submission: "doubted before there were codes", Before: 0.9, After: 0.89, Doubts: []string{"x"}})
	e.Finish()
	require.Equal(t, 4, e.Changed)
	require.Equal(t, 2, e.InDoubt)
	require.Equal(t, []string{"doubted", "doubted before there were codes", "much", "little"},
		[]string{e.List[0].Submission, e.List[1].Submission, e.List[2].Submission, e.List[3].Submission})
}

func TestCellProposalNeedsTwoCurators(t *testing.T) {
	open := &CellProposal{Status: ProposalOpen, By: "a"}
	own, other := Actor{Person: "a", Role: RoleCurator}, Actor{Person: "b", Role: RoleCurator}
	require.Equal(t, KindForbidden, KindOf(open.MayBecome(ProposalApproved, own, false)))
	require.Equal(t, KindForbidden, KindOf(open.MayBecome(ProposalRefused, own, false)))
	require.NoError(t, open.MayBecome(ProposalWithdrawn, own, false))
	require.NoError(t, open.MayBecome(ProposalApproved, other, false))
	require.Equal(t, KindForbidden, KindOf(open.MayBecome(ProposalWithdrawn, other, false)))
	require.Equal(t, KindInvalid, KindOf(open.MayBecome(ProposalReleased, other, false)))
	for _, ended := range []ProposalStatus{ProposalRefused, ProposalWithdrawn, ProposalReleased} {
		require.Equal(t, KindConflict, KindOf((&CellProposal{Status: ended, By: "a"}).MayBecome(ProposalApproved, other, false)))
	}
	approved := &CellProposal{Status: ProposalApproved, By: "a"}
	require.NoError(t, approved.MayBecome(ProposalRefused, other, false), "until it is released it can still be refused")
	require.Equal(t, KindConflict, KindOf(approved.MayBecome(ProposalApproved, other, false)))
}

// A club with one curator could not change its tables at all.
func TestOnlyCuratorApprovesTheirOwn(t *testing.T) {
	open := &CellProposal{Status: ProposalOpen, By: "a"}
	own := Actor{Person: "a", Role: RoleCurator}
	require.NoError(t, open.MayBecome(ProposalApproved, own, true))
	require.Equal(t, KindForbidden, KindOf(open.MayBecome(ProposalRefused, own, true)), "that is withdrawing it")
	require.NoError(t, open.MayBecome(ProposalWithdrawn, own, true))

	approved := &CellProposal{Status: ProposalApproved, By: "a", OwnApproval: true}
	require.NoError(t, approved.MayPublish(own, true))
	require.Equal(t, KindForbidden, KindOf(approved.MayPublish(own, false)), "there is another curator by now")
	require.NoError(t, approved.MayPublish(Actor{Person: "b", Role: RoleCurator}, false))
	approved.OwnApproval = false
	require.NoError(t, approved.MayPublish(own, false), "approved by another one")
}

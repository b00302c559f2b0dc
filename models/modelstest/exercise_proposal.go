package modelstest

import (
	"fmt"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/diagnosis"
)

var proposals = map[string]func(fixture){
	"a proposed cell is what its events make":  proposalReplayed,
	"proposed cells are listed, latest first":  proposalsListed,
	"an older proposal never replaces a newer": olderProposal,
	"rebuilding restores proposed cells":       proposalsRebuilt,
	"a release that no event tells of is told": unpublishedTold,
}

func edit() diagnosis.CellEdit {
	return diagnosis.CellEdit{Family: "Elateridae", Form: "large", Character: "ventrites", States: []diagnosis.StateWord{{State: "5", Word: "always"},
		{State: "rest", Word: "never"}}, Citation: diagnosis.Citation{Source: "none", Place: "p. 7", Basis: diagnosis.BasisRead}, Note: "Žížala"}
}

func (f fixture) propose(id, group, by string, at time.Time) {
	f.Helper()
	f.commit(event(review.ProposalStream(id), 1, by, at, &review.CellProposed{ID: id, Group: group, BaseHash: "base", Edit: edit(), Reason: "counted"}))
}

func (f fixture) proposal(id string) review.CellProposal {
	f.Helper()
	p, err := f.db.CellProposal(f.Context(), id)
	require.NoError(f, err)
	return p
}

func (f fixture) proposalsIn(group string, status review.ProposalStatus) []string {
	f.Helper()
	found, err := f.db.FindCellProposals(f.Context(), group, status)
	require.NoError(f, err)
	ids := []string{}
	for _, p := range found {
		require.Equal(f, f.proposal(p.ID), p)
		ids = append(ids, p.ID)
	}
	return ids
}

func (f fixture) decide(id string, seq int, status review.ProposalStatus) {
	f.Helper()
	f.commit(event(review.ProposalStream(id), seq, "other", noon.Add(time.Duration(seq)*time.Second), &review.CellProposalDecided{Status: status, Reason: "seen"}))
}

func proposalReplayed(f fixture) {
	decided := noon.Add(2 * time.Second)
	want := review.CellProposal{ID: "p", Seq: 1, Group: "adults", BaseHash: "base", Edit: edit(), Reason: "counted", Status: review.ProposalOpen,
		By: "curator", At: noon}
	f.propose("p", "adults", "curator", noon)
	require.Equal(f, want, f.proposal("p"))

	f.decide("p", 2, review.ProposalApproved)
	want.Seq, want.Status, want.DecidedBy, want.DecidedAt, want.DecisionReason = 2, review.ProposalApproved, "other", &decided, "seen"
	require.Equal(f, want, f.proposal("p"))

	// A release and the proposals that it takes in are one batch.
	r := release("adults", 1, "1")
	f.commit(event(review.ProposalStream("p"), 3, "curator", noon, &review.CellReleased{Release: r.Hash}),
		event(review.TablesStream("adults"), 1, "curator", noon, &review.TablesReleased{Release: r}))
	want.Seq, want.Status, want.Release = 3, review.ProposalReleased, r.Hash
	require.Equal(f, want, f.proposal("p"))
	f.requireCurrent("adults", r.Hash)

	length := edit()
	length.States, length.Length = nil, &diagnosis.Length{Min: 1.5, Usual: [2]float64{2, 3}, Max: 1e300}
	f.commit(event(review.ProposalStream("l"), 1, "curator", noon, &review.CellProposed{ID: "l", Edit: length}))
	require.Equal(f, length, f.proposal("l").Edit)

	for _, unknown := range []string{"", "none", "a\x00b", "\xff"} {
		_, err := f.db.CellProposal(f.Context(), unknown)
		requireKind(f.T, review.KindNotFound, err)
	}
	lost := want
	lost.ID, lost.Status = "lost", "lost"
	require.Error(f, f.db.Commit(f.Context(), review.Batch{Proposals: []review.CellProposal{lost}}))
}

func proposalsListed(f fixture) {
	for id, at := range map[string]time.Time{"d": noon.Add(-time.Hour), "a": noon.Add(time.Microsecond), "c": noon, "b": noon} {
		f.propose(id, "adults", "curator", at)
	}
	f.propose("other", "larvae", "curator", noon)
	for i, status := range []review.ProposalStatus{review.ProposalApproved, review.ProposalRefused, review.ProposalWithdrawn} {
		f.decide(string("abd"[i]), 2, status)
	}
	for name, c := range map[string]struct {
		group  string
		status review.ProposalStatus
		want   []string
	}{
		"any":           {"adults", "", []string{"a", "c", "b", "d"}},
		"open":          {"adults", review.ProposalOpen, []string{"c"}},
		"approved":      {"adults", review.ProposalApproved, []string{"a"}},
		"refused":       {"adults", review.ProposalRefused, []string{"b"}},
		"withdrawn":     {"adults", review.ProposalWithdrawn, []string{"d"}},
		"released":      {"adults", review.ProposalReleased, []string{}},
		"another group": {"larvae", "", []string{"other"}},
		"no group":      {"", "", []string{}},
		"no status":     {"adults", "lost", []string{}},
	} {
		require.Equal(f, c.want, f.proposalsIn(c.group, c.status), name)
	}
	_, err := f.db.FindCellProposals(f.Context(), "\xff", "")
	requireKind(f.T, review.KindInvalid, err)
}

func olderProposal(f fixture) {
	f.propose("p", "adults", "curator", noon)
	older := f.proposal("p")
	f.decide("p", 2, review.ProposalRefused)
	newer := f.proposal("p")
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Proposals: []review.CellProposal{older}}))
	require.Equal(f, newer, f.proposal("p"))
}

func proposalsRebuilt(f fixture) {
	for i := range 3 {
		f.propose(fmt.Sprint("p", i), "adults", "curator", noon.Add(time.Duration(i)*time.Second))
	}
	f.decide("p1", 2, review.ProposalApproved)
	good := f.proposal("p1")
	spoilt, unmade := good, good
	spoilt.Seq, spoilt.Group, spoilt.Status = 99, "larvae", review.ProposalRefused
	unmade.ID = "never-proposed"
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Proposals: []review.CellProposal{spoilt, unmade}}))
	require.Equal(f, spoilt, f.proposal("p1"))

	require.NoError(f, f.db.Rebuild(f.Context()))
	require.Equal(f, good, f.proposal("p1"))
	require.Equal(f, []string{"p2", "p1", "p0"}, f.proposalsIn("adults", ""))
	require.Empty(f, f.proposalsIn("larvae", ""))
	_, err := f.db.CellProposal(f.Context(), "never-proposed")
	requireKind(f.T, review.KindNotFound, err)
}

func unpublishedTold(f fixture) {
	r := release("adults", 1, "1")
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Release: &r}))
	require.ErrorContains(f, f.db.Rebuild(f.Context()), "no event published it")
}

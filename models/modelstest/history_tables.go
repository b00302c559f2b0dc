package modelstest

import (
	"context"
	"fmt"
	"slices"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/service"
)

// Groups of Tables and OtherTables.
const (
	firstGroup = "made-up"
	otherGroup = "made-up-flies"
)

// edit is a change of a cell: sound, without effect, or refused.
func (w *world) edit() diagnosis.CellEdit {
	cite := diagnosis.Citation{Source: "none", Place: pick(w, "whole", "p. 7", "p. 8"), Basis: diagnosis.BasisMemory}
	words := func(character string, states ...diagnosis.StateWord) diagnosis.CellEdit {
		return diagnosis.CellEdit{Family: w.family(), Character: character, States: states, Citation: cite, Note: pick(w, "", "as counted")}
	}
	often := pick(w, "usually", "often", "always")
	if w.flies() {
		states := pick(w, [2]string{"clear", "banded"}, [2]string{"banded", "clear"})
		return words("wing-pattern", diagnosis.StateWord{State: states[0], Word: often}, diagnosis.StateWord{State: states[1], Word: "rarely"})
	}
	return pick(w,
		words("ventrites", diagnosis.StateWord{State: "5", Word: often}, diagnosis.StateWord{State: "rest", Word: pick(w, "rarely", "never")}),
		words("antenna-form", diagnosis.StateWord{State: "serrate", Word: often}, diagnosis.StateWord{State: "filiform", Word: "rarely"},
			diagnosis.StateWord{State: "clavate", Word: pick(w, "never", "rarely", "perhaps")}),
		diagnosis.CellEdit{Family: w.family(), Character: "length", Citation: cite,
			Length: &diagnosis.Length{Min: pick(w, 1.0, 2.0), Usual: [2]float64{4, pick(w, 3.0, 20.0, 30.0)}, Max: 80}})
}

func (w *world) proposeCell(a review.Actor, _ string, _ int) (service.Done, error) {
	p, err := w.service.ProposeCell(w.Context(), a, w.group, w.edit(), pick(w, "counted", "counted", "counted", ""))
	if err == nil {
		w.proposals = append(w.proposals, p.ID)
	}
	return service.Done{}, err
}

// decideCell decides mostly on the latest proposals: older ones have been decided.
func (w *world) decideCell(a review.Actor, _ string, _ int) (service.Done, error) {
	latest := append([]string{"none"}, w.proposals...)
	id := pick(w, latest[max(0, len(latest)-4):]...)
	version := pick(w, service.AnyVersion, service.AnyVersion, 1, 2)
	status := pick(w, review.ProposalApproved, review.ProposalApproved, review.ProposalApproved, review.ProposalRefused,
		review.ProposalWithdrawn, review.ProposalReleased)
	if p, err := w.db.CellProposal(w.Context(), id); err == nil && w.chance(0.7) {
		a = w.entitled(p, status)
	}
	p, err := w.service.DecideCell(w.Context(), a, id, version, status, pick(w, "seen", "seen", "seen", ""))
	if err == nil {
		require.Equal(w, status, p.Status)
		w.decided[status]++
	}
	return service.Done{}, err
}

// entitled is who may decide so: who proposed it takes it back, another curator decides.
func (w *world) entitled(p review.CellProposal, status review.ProposalStatus) review.Actor {
	own := status == review.ProposalWithdrawn
	return pick(w, slices.DeleteFunc(slices.Clone(w.people), func(a review.Actor) bool {
		return a.Role != review.RoleCurator || (a.Person == p.By) != own
	})...)
}

func (w *world) publish(a review.Actor, _ string, _ int) (service.Done, error) {
	w.ids++
	r, err := w.service.Publish(w.Context(), a, service.NextRelease{Group: pick(w, firstGroup, otherGroup), Version: fmt.Sprint(pick(w, w.ids, w.ids, w.ids, 1)), Notes: "made up"})
	if err == nil {
		require.Positive(w, r.Seq)
		w.releases++
	}
	return service.Done{}, err
}

// requireProposalsReplayed compares all proposals with what their events make.
func (w *world) requireProposalsReplayed() {
	w.Helper()
	for _, id := range w.proposals {
		events, err := w.db.Events(w.Context(), review.ProposalStream(id))
		require.NoError(w, err)
		replayed, err := review.ReplayCellProposal(events)
		require.NoError(w, err)
		stored, err := w.db.CellProposal(w.Context(), id)
		require.NoError(w, err)
		require.Equal(w, replayed, stored)
		w.decided[stored.Status]++
	}
}

// snapshotTables adds what is stored about tables.
func (w *world) snapshotTables(all map[string]any) {
	ctx := context.Background()
	for _, group := range []string{firstGroup, otherGroup} {
		proposals, err := w.db.FindCellProposals(ctx, group, "")
		require.NoError(w, err)
		releases, err := w.db.Releases(ctx, group)
		require.NoError(w, err)
		current, err := w.db.CurrentRelease(ctx, group)
		require.NoError(w, err)
		all["proposals of "+group], all["releases of "+group], all["current of "+group] = proposals, releases, current
		for _, r := range releases {
			whole, err := w.db.Release(ctx, r.Hash)
			require.NoError(w, err)
			tables, problems := diagnosis.Load(diagnosis.FromContents(whole.Files))
			require.Empty(w, problems)
			require.Equal(w, r.Hash, tables.Hash, "the files are those that were published")
			all["release "+r.Hash] = whole
		}
		visited := map[string]int{}
		err = w.db.EachDetermination(ctx, group, func(s review.Submission, _ review.Specimen, siblings []review.Submission) error {
			require.Equal(w, group, s.Group)
			visited[s.ID] = len(siblings)
			return nil
		})
		require.NoError(w, err)
		all["determinations of "+group] = visited
	}
}

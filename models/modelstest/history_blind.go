package modelstest

import (
	"context"
	"slices"
	"strings"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/judgement"
	"revidit/review/service"
)

// asked are those whom the service wants to look blind; of other acts nobody, so that others are taken.
func (w *world) asked(name string, s review.Submission) []review.Actor {
	panel := name == "panel opinion" || name == "leave panel"
	if !(name == "blind check" && s.Draw != nil) && !(panel && s.Recheck != nil) {
		return nil
	}
	var asked []review.Actor
	for _, p := range w.people {
		if p.Role != review.RoleReviewer && w.chance(0.9) { // is hardly ever asked
			continue
		}
		look, err := w.service.BlindLook(w.Context(), p, s.ID)
		if err != nil {
			require.NotEmpty(w, review.KindOf(err), "%v", err)
			continue
		}
		if look.Recheck == panel {
			asked = append(asked, p)
		}
	}
	return asked
}

func (w *world) blindCheck(a review.Actor, id string, v int) (service.Done, error) {
	look, err := w.service.BlindLook(w.Context(), a, id)
	if err != nil {
		return service.Done{}, err
	}
	states := map[string][]string{"antenna-form": {"filiform", "serrate"}, "ventrites": {"5", "5", "6", "1000"}, "wing-pattern": {"clear", "banded"}}
	form := review.BlindForm{State: pick(w, append(states[look.Character], "")...), Note: pick(w, "", "rubbed")}
	if w.chance(0.2) {
		form.Kind = pick(w, review.VerdictNotVisible, review.VerdictPartMissing, review.VerdictCannotJudge, review.VerdictConfirm)
		form.State = pick(w, "", "", "", form.State)
	}
	return w.service.BlindCheck(w.Context(), a, id, v, form)
}

func (w *world) panelOpinion(a review.Actor, id string, v int) (service.Done, error) {
	form := review.PanelForm{Family: w.family(), Note: pick(w, "", "small photos")}
	if w.chance(0.1) {
		form.Family = judgement.NoneOfThese
	}
	return w.service.PanelOpinion(w.Context(), a, id, v, form)
}

// sitOnPanels goes on where a submission of the history is to be rechecked, because by chance hardly any panel would ever
// be complete.
func (w *world) sitOnPanels(acts []act) {
	ofPanel := slices.DeleteFunc(slices.Clone(acts), func(a act) bool { return a.name != "panel opinion" && a.name != "leave panel" })
	rechecked := func(id string) bool {
		s, err := w.stored(id)
		require.NoError(w, err)
		return s.Recheck != nil
	}
	if w.chance(0.2) || !slices.ContainsFunc(w.submissions, rechecked) {
		return
	}
	for range w.dice.IntN(12) {
		w.tick()
		w.attempt(pick(w, ofPanel...))
	}
}

// refit is rare: it weighs everything anew.
func (w *world) refit(a review.Actor, _ string, _ int) (service.Done, error) {
	if a.Role == review.RoleCurator && w.chance(0.8) {
		return service.Done{}, w.service.CatchUp(w.Context())
	}
	_, err := w.service.Refit(w.Context(), a, pick(w, firstGroup, otherGroup))
	return service.Done{}, err
}

// noteChance counts what chance has led to.
func (w *world) noteChance(s review.Submission) {
	if s.Draw != nil {
		w.drawn++
	}
	if s.Recheck != nil && s.Recheck.Complete() {
		w.panels++
	}
}

// requireReliabilitiesReplayed compares what people are like with what their events make.
func (w *world) requireReliabilitiesReplayed() {
	w.Helper()
	for _, group := range []string{firstGroup, otherGroup} {
		events, err := w.db.Events(w.Context(), review.ReliabilityStream(group))
		require.NoError(w, err)
		replayed, err := review.ReplayReliability(group, events)
		require.NoError(w, err)
		stored, err := w.db.Reliability(w.Context(), group)
		require.NoError(w, err)
		require.Equal(w, replayed, stored)
		require.Equal(w, len(events), stored.Version)
	}
}

// requireLearntWhenClosed: a specimen is taken in at the moment in which the last submission of it closes, so that no
// report counts twice; whoever looks at a closed one afterwards changes nothing.
func (w *world) requireLearntWhenClosed() {
	w.Helper()
	learnt := 0
	for _, group := range []string{firstGroup, otherGroup} {
		events, err := w.db.Events(w.Context(), review.ReliabilityStream(group))
		require.NoError(w, err)
		for _, e := range events {
			c, ok := e.Change.(*review.ReliabilityLearned)
			if !ok {
				continue
			}
			learnt++
			for _, specimen := range c.Specimens {
				require.True(w, w.closesAt(specimen, e), "specimen %s is learnt at %s without having been closed then", specimen, e.At)
			}
		}
	}
	w.Logf("learnt %d times", learnt)
	require.NotZero(w, learnt)
}

// closesAt says whether a submission of a specimen, seen by reviewers, closes in the act that learns from it.
func (w *world) closesAt(specimen string, learned review.Event) bool {
	submissions, err := w.db.SubmissionsOf(w.Context(), specimen)
	require.NoError(w, err)
	return slices.ContainsFunc(submissions, func(s review.Submission) bool {
		events, err := w.db.Events(w.Context(), review.SubmissionStream(s.ID))
		require.NoError(w, err)
		opened := false
		for _, e := range events {
			opened = opened || e.Change.EventKind() == (&review.Submitted{}).EventKind()
			if opened && e.At.Equal(learned.At) && closes(e.Change) {
				return true
			}
		}
		return false
	})
}

func closes(c review.Change) bool {
	switch c.(type) {
	case *review.Confirmed, *review.Redetermined, *review.Undetermined, *review.Withdrawn:
		return true
	}
	return false
}

// snapshotQueue adds the queue as a filter has it, with the places.
func (w *world) snapshotQueue(all map[string]any, name string, filter service.QueueFilter) {
	ctx := context.Background()
	var order []string
	for page := (service.Page{Size: 200}); ; {
		lines, next, err := w.db.FindQueue(ctx, filter, page)
		require.NoError(w, err)
		for _, line := range lines {
			all[name+" "+line.ID] = line
			order = append(order, line.ID)
		}
		if page.Cursor = next; next == "" {
			break
		}
	}
	all[name] = strings.Join(order, " ")
}

// snapshotReliability adds what is known of people, and the specimens that it is learnt from.
func (w *world) snapshotReliability(all map[string]any) {
	ctx := context.Background()
	for _, group := range []string{firstGroup, otherGroup} {
		known, err := w.db.Reliability(ctx, group)
		require.NoError(w, err)
		all["reliability of "+group] = known
		visited := map[string]int{}
		err = w.db.EachSpecimen(ctx, group, func(spec review.Specimen, submissions []review.Submission) error {
			visited[spec.ID] = len(submissions)
			return nil
		})
		require.NoError(w, err)
		all["specimens of "+group] = visited
	}
}

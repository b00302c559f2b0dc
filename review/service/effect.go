package service

import (
	"context"

	"revidit/review"
	"revidit/review/judgement"
)

// effect compares two judges on every determination that stands. Of submissions whose verdicts are closed to the actor
// it counts the observations alone: a preview must not give away what others have said.
func (s *Service) effect(ctx context.Context, actor review.Actor, present, other *judgement.Judge) (review.Effect, error) {
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return review.Effect{}, err
	}
	people, err := s.store.Reliability(ctx, present.Tables().Group.ID)
	if err != nil {
		return review.Effect{}, err
	}
	e := review.Effect{List: []review.Affected{}}
	err = s.store.EachDetermination(ctx, present.Tables().Group.ID, func(sub review.Submission, spec review.Specimen, siblings []review.Submission) error {
		e.Looked++
		if review.SealedFrom(actor, &sub) {
			sub = review.UnseenOf(sub)
		}
		now := &review.Dossier{Submission: &sub, Specimen: &spec, Siblings: s.openTo(actor, siblings), Policy: policy, People: &people}
		if a, changed := now.Compare(present, other); changed {
			e.Add(a)
		}
		return nil
	})
	e.Finish()
	return e, err
}

// Doubted compares, for every determination that stands, the tables that it was last assessed with and those in force:
// what the releases since then have changed, those put in doubt first.
func (s *Service) Doubted(ctx context.Context, actor review.Actor, group string) (review.Effect, error) {
	if !review.May(actor, review.ActEditTables, "") {
		return review.Effect{}, review.Forbidden(actor, review.ActEditTables, "")
	}
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return review.Effect{}, err
	}
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return review.Effect{}, err
	}
	people, err := s.store.Reliability(ctx, judge.Tables().Group.ID)
	if err != nil {
		return review.Effect{}, err
	}
	e := review.Effect{List: []review.Affected{}}
	err = s.store.EachDetermination(ctx, judge.Tables().Group.ID, func(sub review.Submission, spec review.Specimen, siblings []review.Submission) error {
		e.Looked++
		if !sub.Closed() || sub.Assessment == nil || sub.Assessment.TablesHash == judge.Tables().Hash {
			return nil
		}
		former, err := s.judgeOfHash(ctx, sub.Assessment.TablesHash)
		if review.KindOf(err) == review.KindNotFound {
			return nil // built-in tables of an earlier program, which nobody has published here
		}
		if err != nil {
			return err
		}
		now := &review.Dossier{Submission: &sub, Specimen: &spec, Siblings: siblings, Policy: policy, People: &people}
		if a, changed := now.Compare(former, judge); changed {
			e.Add(a)
		}
		return nil
	})
	e.Finish()
	return e, err
}

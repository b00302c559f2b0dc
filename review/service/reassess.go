package service

import (
	"context"
	"fmt"

	"revidit/review"
)

// Reassess computes the open and returned submissions of a group anew with the tables in force, where the stored
// assessment is of others, and returns how many it has. A submission that somebody changes meanwhile is left: that change assesses it.
func (s *Service) Reassess(ctx context.Context, actor review.Actor, group string) (int, error) {
	if !review.May(actor, review.ActEditTables, "") {
		return 0, review.Forbidden(actor, review.ActEditTables, "")
	}
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return 0, err
	}
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return 0, err
	}
	people, err := s.store.Reliability(ctx, judge.Tables().Group.ID)
	if err != nil {
		return 0, err
	}
	var due []review.Dossier
	m := s.moment(actor)
	err = s.store.EachDetermination(ctx, judge.Tables().Group.ID, func(sub review.Submission, spec review.Specimen, siblings []review.Submission) error {
		stale := sub.Assessment == nil || sub.Assessment.TablesHash != judge.Tables().Hash
		if stale && !sub.Closed() {
			due = append(due, review.Dossier{Moment: m, Submission: &sub, Specimen: &spec, Siblings: siblings, Policy: policy, People: &people, Judge: judge})
		}
		return nil
	})
	if err != nil {
		return 0, err
	}
	done := 0
	for i := range due {
		switch err := s.reassess(ctx, &due[i]); {
		case review.KindOf(err) == review.KindConflict:
		case err != nil:
			return done, fmt.Errorf("reassess %s: %w", due[i].Submission.ID, err)
		default:
			done++
		}
	}
	return done, nil
}

func (s *Service) reassess(ctx context.Context, now *review.Dossier) error {
	w := review.NewWriter(now.Moment)
	if err := w.Submission(now.Submission, now.Assessed()); err != nil {
		return err
	}
	return s.commit(ctx, w)
}

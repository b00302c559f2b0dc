package service

import (
	"context"
	"fmt"
	"slices"

	"revidit/review"
	"revidit/review/audit"
)

// learnAttempts bounds how often learning yields to others who learn at the same moment.
const learnAttempts = 5

// learn takes in a specimen when the last of its submissions has just closed; a draft that was discarded changes nothing,
// and what a refit has taken in already would count twice. The act itself is stored already, so that a
// failure here is told to the keeper, not to the actor: the next refit takes the specimen in.
func (s *Service) learn(ctx context.Context, now *review.Dossier) {
	if !now.Submission.Closed() || now.Submission.OpenedAt == nil {
		return
	}
	var err error
	for range learnAttempts {
		if err = s.learnOnce(ctx, now); review.KindOf(err) != review.KindConflict {
			break
		}
	}
	if err != nil {
		s.failed(fmt.Errorf("learn from specimen %s, which the next refit takes in: %w", now.Specimen.ID, err))
	}
}

func (s *Service) learnOnce(ctx context.Context, now *review.Dossier) error {
	group := now.Judge.Tables().Group.ID
	submissions, err := s.store.SubmissionsOf(ctx, now.Specimen.ID)
	if err != nil {
		return err
	}
	closed, ok := review.ClosedOf(now.Specimen, submissions)
	if !ok {
		return nil
	}
	known, err := s.store.Reliability(ctx, group)
	if err != nil || slices.Contains(known.Added, now.Specimen.ID) {
		return err
	}
	learnt, people, err := audit.Learn(now.Judge, known, []review.Closed{closed}, now.Policy.List, now.Now)
	if err != nil {
		return err
	}
	change := &review.ReliabilityLearned{Specimens: []string{closed.Specimen.ID}, Items: learnt.Items - known.Items, People: map[string]review.PersonKnown{}}
	for _, id := range people {
		change.People[id] = learnt.People[id]
	}
	w := review.NewWriter(now.Moment)
	if err := w.Reliability(&known, change); err != nil {
		return err
	}
	return s.commit(ctx, w)
}

package service

import (
	"context"
	"errors"

	"revidit/review"
)

// opened records that the actor is about to be shown a specimen with its names, and with others what somebody else has said of
// it. What could not be recorded is not shown. Two requests at once record it once.
func (s *Service) opened(ctx context.Context, now *review.Opening, actor review.Actor, specimen string, others bool) error {
	if !review.RecordsOpening(actor) || now.Seq > 0 && (now.Verdicts || !others) {
		return nil
	}
	m := s.moment(actor)
	if now.Seq > 0 { // once for a person and specimen
		former, err := s.store.Events(ctx, review.OpeningStream(specimen, actor.Person))
		if err != nil {
			return err
		}
		m = m.NotBefore(former[len(former)-1].At)
	}
	w := review.NewWriter(m)
	if err := w.Opening(now, &review.Opened{Specimen: specimen, Verdicts: others}); err != nil {
		return err
	}
	err := s.store.Commit(ctx, w.Finished())
	if errors.Is(err, ErrRace) {
		return s.openedBefore(ctx, now, actor, specimen, others)
	}
	return err
}

// openedBefore is for who was quicker by another request: it may have been shown less than this one shows.
func (s *Service) openedBefore(ctx context.Context, now *review.Opening, actor review.Actor, specimen string, others bool) error {
	events, err := s.store.Events(ctx, review.OpeningStream(specimen, actor.Person))
	if err != nil {
		return err
	}
	if *now, err = review.ReplayOpening(events); err != nil {
		return err
	}
	if now.Seq == 0 {
		return ErrRace
	}
	return s.opened(ctx, now, actor, specimen, others)
}

// openedSubmission records that the actor is about to be shown a submission. A draft of a specimen that is not registered
// shows its owner nothing of anybody's.
func (s *Service) openedSubmission(ctx context.Context, actor review.Actor, now *review.Dossier) error {
	if now.Draft != nil && !now.Draft.Registered {
		return nil
	}
	return s.opened(ctx, &now.Opened, actor, now.Specimen.ID, review.ShowsOthers(actor, now.Submission))
}

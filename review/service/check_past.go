package service

import (
	"context"
	"math/rand/v2"
	"strings"

	"revidit/review"
)

const (
	// momentsChecked is how many past moments, taken by chance, a check of the database looks at.
	momentsChecked = 50
	// headsLooked is how far behind a moment an assessment is looked for: acts that assess nothing are fewer than that in a row, but
	// where letters of labels are corrected by the hundred.
	headsLooked = 500
)

// checkPast makes assessments of past moments again and says which come out otherwise than they were stored.
func (s *Service) checkPast(ctx context.Context, at *checking) error {
	last, err := s.store.LastPosition(ctx)
	if err != nil || last == 0 {
		return err
	}
	looked := map[int64]bool{}
	formerly := formerly{service: s}
	for i := range min(momentsChecked, last) {
		position := i // of few events all
		if last > momentsChecked {
			position = rand.Int64N(last)
		}
		found, err := s.assessedBehind(ctx, position)
		if err != nil {
			return err
		}
		if found.Position == 0 || looked[found.Position] {
			continue
		}
		looked[found.Position] = true
		if err := s.checkMoment(ctx, &formerly, found, at); err != nil {
			return err
		}
	}
	return nil
}

// assessedBehind is the next assessment behind a position; of position 0 where none is near.
func (s *Service) assessedBehind(ctx context.Context, position int64) (EventHead, error) {
	heads, err := s.store.HeadsAfter(ctx, position, headsLooked)
	if err != nil {
		return EventHead{}, err
	}
	for _, h := range heads {
		if h.Kind == (*review.Assessed)(nil).EventKind() {
			return h, nil
		}
	}
	return EventHead{}, nil
}

// checkMoment makes one assessment again. What cannot be read any more is something that differs, too.
func (s *Service) checkMoment(ctx context.Context, formerly *formerly, h EventHead, at *checking) error {
	made, err := s.remadeAt(ctx, formerly, h)
	switch {
	case review.KindOf(err) == review.KindDamaged:
		s.log.Error("an assessment of the past cannot be made again", "position", h.Position, "stream", h.Stream, "error", err)
		at.otherwise("found-unmade", h)
	case err != nil:
		return err
	case made.Again:
		at.Checked.Remade++
	case made.Why == review.StoredDiffers:
		at.otherwise("found-otherwise", h)
	default:
		at.Checked.Kept++
	}
	return nil
}

func (at *checking) otherwise(code string, h EventHead) {
	if len(at.Checked.Otherwise) < problemsKept {
		at.Checked.Otherwise = append(at.Checked.Otherwise, review.Code(code, "position", digits(h.Position), "stream", h.Stream))
	}
}

// remadeAt makes the assessment of an event again.
func (s *Service) remadeAt(ctx context.Context, formerly *formerly, h EventHead) (review.Remade, error) {
	made, err := s.remakeAll(ctx, formerly, strings.TrimPrefix(h.Stream, review.SubmissionStream("")), h.Position)
	if err != nil || len(made) == 0 {
		return review.Remade{}, err
	}
	return made[0], nil
}

// Remake makes every stored assessment of a submission again, for whoever has the database itself, and says of each whether it comes
// out as it was stored.
func (s *Service) Remake(ctx context.Context, submission string) ([]review.Remade, error) {
	return s.remakeAll(ctx, &formerly{service: s}, submission, 0)
}

// remakeAll makes the stored assessments of a submission again, or the one at a position.
func (s *Service) remakeAll(ctx context.Context, formerly *formerly, submission string, position int64) (all []review.Remade, err error) {
	sub, err := s.store.Submission(ctx, submission)
	if err != nil {
		return nil, err
	}
	spec, err := s.store.Specimen(ctx, sub.Specimen)
	if err != nil {
		return nil, err
	}
	submissions, err := s.store.SubmissionsOf(ctx, sub.Specimen)
	if err != nil {
		return nil, err
	}
	past, err := s.past(ctx, &spec, submissions)
	if err != nil {
		return nil, err
	}
	for _, e := range past.AssessmentsOf(submission) {
		if position != 0 && e.Position != position {
			continue
		}
		_, made, err := formerly.remake(ctx, past, e)
		if err != nil {
			return nil, err
		}
		all = append(all, made)
	}
	return all, nil
}

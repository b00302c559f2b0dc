package service

import (
	"context"
	"slices"

	"revidit/review"
)

// SameEvidence says whether somebody who has seen a submission at an event of it, by its number, has seen the evidence as
// it is: nothing has happened since but what people said.
func (s *Service) SameEvidence(ctx context.Context, actor review.Actor, id string, seq int) (bool, error) {
	now, err := s.load(ctx, actor, id, AnyVersion)
	if err != nil {
		return false, err
	}
	if seq < 1 || seq > now.Submission.Seq {
		return false, nil
	}
	stream := review.SubmissionStream(id)
	events, err := s.store.History(ctx, stream, review.SpecimenStream(now.Specimen.ID)) // by positions: clocks are set back
	if err != nil {
		return false, err
	}
	seen := slices.IndexFunc(events, func(e review.Placed) bool { return e.Stream == stream && e.Seq == seq })
	if seen < 0 {
		return false, nil
	}
	return !slices.ContainsFunc(events[seen+1:], func(e review.Placed) bool {
		return e.Stream != stream || !review.OnlySaid(e.Change)
	}), nil
}

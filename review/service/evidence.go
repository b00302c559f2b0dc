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
	events, err := s.store.Events(ctx, review.SubmissionStream(id))
	if err != nil || len(events) < now.Submission.Seq {
		return false, err
	}
	seen := events[seq-1]
	if slices.ContainsFunc(events[seq:], func(e review.Event) bool { return !review.OnlySaid(e.Change) }) {
		return false, nil
	}
	ofSpecimen, err := s.store.Events(ctx, review.SpecimenStream(now.Specimen.ID))
	changed := slices.ContainsFunc(ofSpecimen, func(e review.Event) bool { return e.At.After(seen.At) })
	return !changed, err
}

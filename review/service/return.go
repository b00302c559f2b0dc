package service

import (
	"context"

	"revidit/review"
)

// Return sends a submission back to its owner with a request.
func (s *Service) Return(ctx context.Context, actor review.Actor, id string, version int, form review.ReturnForm) (Done, error) {
	return s.act(ctx, actor, id, version, func(now *review.Dossier) (review.Decision, error) {
		return review.DecideReturn(now.Moment, now.Submission, form, now.Judge.Tables())
	})
}

package service

import (
	"context"

	"revidit/review"
)

// Review saves a reviewer's verdicts and opinion of one sitting. The submission settles when the policy is satisfied.
func (s *Service) Review(ctx context.Context, actor review.Actor, id string, version int, form review.ReviewForm) (Done, error) {
	return s.act(ctx, actor, id, version, func(now *review.Dossier) (review.Decision, error) {
		made, err := review.DecideReview(now, form)
		return now.MarkOpened(made), err
	})
}

// Doubts are what a review would raise; nothing is stored.
func (s *Service) Doubts(ctx context.Context, actor review.Actor, id string, form review.ReviewForm) ([]review.Doubt, error) {
	now, err := s.load(ctx, actor, id, AnyVersion)
	if err != nil {
		return nil, err
	}
	return review.Doubts(now, form), nil
}

package service

import (
	"context"

	"revidit/review"
)

// Uphold lets a closed determination stand that a panel or other tables speak against.
func (s *Service) Uphold(ctx context.Context, actor review.Actor, id string, version int, reason string) (Done, error) {
	return s.act(ctx, actor, id, version, func(now *review.Dossier) (review.Decision, error) {
		return review.DecideUphold(now, reason)
	})
}

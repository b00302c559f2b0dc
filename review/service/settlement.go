package service

import (
	"context"

	"revidit/review"
)

// Settle confirms a submission on the authority of a reviewer whom the policy names for its family. The confidence
// stays what it is.
func (s *Service) Settle(ctx context.Context, actor review.Actor, id string, version int, reason string) (Done, error) {
	return s.act(ctx, actor, id, version, func(now *review.Dossier) (review.Decision, error) {
		return review.DecideSettle(now, reason)
	})
}

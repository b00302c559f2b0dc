package service

import (
	"context"

	"revidit/review"
)

// Reply gives a written reason why a contradiction does not stand. The submission settles when the policy is satisfied.
func (s *Service) Reply(ctx context.Context, actor review.Actor, id string, version int, form review.ReplyForm) (Done, error) {
	return s.act(ctx, actor, id, version, func(now *review.Dossier) (review.Decision, error) {
		return review.DecideReply(now, form, now.Shown().Contradictions)
	})
}

package service

import (
	"context"

	"revidit/review"
)

// Audit opens what is sealed of a submission to a curator, for a written reason and without a verdict.
func (s *Service) Audit(ctx context.Context, actor review.Actor, id string, version int, reason string) (Done, error) {
	return s.act(ctx, actor, id, version, func(now *review.Dossier) (review.Decision, error) {
		return review.DecideAudit(now, reason)
	})
}

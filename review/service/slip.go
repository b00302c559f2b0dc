package service

import (
	"context"

	"revidit/review"
)

// ReleaseSlip lets the slip of the actor's own opinion be printed, or takes that back.
func (s *Service) ReleaseSlip(ctx context.Context, actor review.Actor, id string, version int, takeBack bool) (Done, error) {
	return s.act(ctx, actor, id, version, func(now *review.Dossier) (review.Decision, error) {
		return review.DecideReleaseSlip(now, takeBack)
	})
}

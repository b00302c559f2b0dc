package service

import (
	"context"

	"revidit/review"
)

// Hold keeps an open submission for the actor until the policy's time has run out. Holding again extends it.
func (s *Service) Hold(ctx context.Context, actor review.Actor, id string, version int) (Done, error) {
	return s.act(ctx, actor, id, version, func(now *review.Dossier) (review.Decision, error) {
		return review.DecideHold(now.Moment, now.Submission, now.Policy)
	})
}

// EndHold ends the actor's own hold early, or as a curator anybody's.
func (s *Service) EndHold(ctx context.Context, actor review.Actor, id string, version int) (Done, error) {
	return s.act(ctx, actor, id, version, func(now *review.Dossier) (review.Decision, error) {
		return review.DecideEndHold(now.Moment, now.Submission)
	})
}

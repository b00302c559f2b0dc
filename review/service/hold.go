package service

import (
	"context"

	"revidit/review"
)

// Hold keeps an open submission for the actor until the policy's time has run out. Holding again extends it.
// Nobody holds more at once than the policy lets them.
func (s *Service) Hold(ctx context.Context, actor review.Actor, id string, version int) (Done, error) {
	return again(ctx, func() (Done, error) {
		now, err := s.load(ctx, actor, id, version)
		if err != nil {
			return Done{}, err
		}
		holdings, err := s.store.Holdings(ctx, actor.Person, now.Moment.Now)
		if err != nil {
			return Done{}, err
		}
		now.Rests.Holds = &review.MostHeld{Person: actor.Person, At: now.Moment.Now, Most: now.Policy.MostHolds()}
		return s.carryOut(ctx, now, func(now *review.Dossier) (review.Decision, error) {
			return review.DecideHold(now, holdings)
		})
	})
}

// EndHold ends the actor's own hold early, or as a curator anybody's.
func (s *Service) EndHold(ctx context.Context, actor review.Actor, id string, version int) (Done, error) {
	return s.act(ctx, actor, id, version, func(now *review.Dossier) (review.Decision, error) {
		return review.DecideEndHold(now.Moment, now.Submission)
	})
}

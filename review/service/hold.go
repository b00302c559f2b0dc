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

// HoldingsOf are the submissions that a person holds, to who keeps accounts.
func (s *Service) HoldingsOf(ctx context.Context, by review.Actor, person string) ([]review.Holding, error) {
	if !review.May(by, review.ActKeepAccounts, "") {
		return nil, review.Forbidden(by, review.ActKeepAccounts, "")
	}
	return s.store.Holdings(ctx, person, s.now())
}

// EndHoldsOf ends all holds of a person, so that others may look at what they held. It stops at the first one that cannot be ended.
func (s *Service) EndHoldsOf(ctx context.Context, by review.Actor, person string) error {
	holdings, err := s.HoldingsOf(ctx, by, person)
	if err != nil {
		return err
	}
	for _, h := range holdings {
		_, err := s.EndHold(ctx, by, h.Submission, AnyVersion)
		if err != nil && review.KindOf(err) != review.KindConflict { // it has run out meanwhile
			return err
		}
	}
	return nil
}

package service

import (
	"context"
	"errors"
	"slices"

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

// PassHolds passes some of what a person holds on to somebody else, with a reason: all, or none where that person may not take one of
// them. to is resolved by whoever knows accounts.
func (s *Service) PassHolds(ctx context.Context, by review.Actor, person string, to review.Actor, ids []string, reason string) error {
	holdings, err := s.HoldingsOf(ctx, by, person)
	if err != nil {
		return err
	}
	held := slices.DeleteFunc(holdings, func(h review.Holding) bool { return !slices.Contains(ids, h.Submission) })
	if len(held) == 0 {
		return review.Invalidf("submissions", "choose at least one that the person holds")
	}
	for _, h := range held { // before the first one is passed on
		if _, err := s.passing(ctx, by, to, h.Submission, len(held), reason); err != nil && !errors.Is(err, ErrRace) {
			return err
		}
	}
	for _, h := range held {
		_, err := again(ctx, func() (Done, error) {
			now, err := s.passing(ctx, by, to, h.Submission, 1, reason)
			if err != nil {
				return Done{}, err
			}
			return s.carryOut(ctx, now.Dossier, func(*review.Dossier) (review.Decision, error) { return now.made, nil })
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// passing is what passes one hold on: the dossier of who does so, and the decision.
type passing struct {
	*review.Dossier
	made review.Decision
}

// passing decides on one of as many as are passed on together.
func (s *Service) passing(ctx context.Context, by, to review.Actor, id string, together int, reason string) (passing, error) {
	now, err := s.load(ctx, by, id, AnyVersion)
	if err != nil {
		return passing{}, err
	}
	theirs, err := s.load(ctx, to, id, AnyVersion)
	if review.KindOf(err) == review.KindBlind {
		err = review.MayNotTakeOver(to, now.Submission)
	}
	if err != nil {
		return passing{}, err
	}
	if theirs.Submission.Seq != now.Submission.Seq {
		return passing{}, ErrRace
	}
	holdings, err := s.store.Holdings(ctx, to.Person, now.Moment.Now)
	if err != nil {
		return passing{}, err
	}
	if len(holdings)+together > now.Policy.MostHolds() {
		return passing{}, review.MayNotTakeOver(to, now.Submission)
	}
	now.Rests.Holds = &review.MostHeld{Person: to.Person, At: now.Moment.Now, Most: now.Policy.MostHolds()}
	made, err := review.DecidePassHold(now, theirs, holdings, reason)
	return passing{now, made}, err
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

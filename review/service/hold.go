package service

import (
	"context"
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

// PassHolds passes some of what a person holds on to somebody else, with a reason: all in one transaction, or none where the person does
// not hold one of them any more or that other one may not take it. to is resolved by whoever knows accounts.
func (s *Service) PassHolds(ctx context.Context, by review.Actor, person string, to review.Actor, ids []string, reason string) error {
	_, err := again(ctx, func() (Done, error) {
		holdings, err := s.HoldingsOf(ctx, by, person)
		if err != nil {
			return Done{}, err
		}
		held, err := chosenOf(holdings, ids)
		if err != nil {
			return Done{}, err
		}
		var decided []decision
		for _, h := range held {
			d, err := s.passing(ctx, by, to, h.Submission, len(held), reason)
			if err != nil {
				return Done{}, err
			}
			decided = append(decided, d)
		}
		return Done{}, s.carryOutTogether(ctx, decided)
	})
	return err
}

// chosenOf are those of a list that somebody has chosen by their ids.
func chosenOf(holdings []review.Holding, ids []string) ([]review.Holding, error) {
	if len(ids) == 0 {
		return nil, review.Invalidf("submissions", "choose at least one that the person holds")
	}
	for _, id := range ids {
		if !slices.ContainsFunc(holdings, func(h review.Holding) bool { return h.Submission == id }) {
			return nil, review.Invalidf("submissions", "the person does not hold all of them any more, so that none was passed on; choose at least one of those that are left")
		}
	}
	return slices.DeleteFunc(holdings, func(h review.Holding) bool { return !slices.Contains(ids, h.Submission) }), nil
}

// decision is what is decided on one submission, with the dossier that it was decided on.
type decision struct {
	*review.Dossier
	made review.Decision
}

// passing decides on one of as many as are passed on together.
func (s *Service) passing(ctx context.Context, by, to review.Actor, id string, together int, reason string) (decision, error) {
	now, err := s.load(ctx, by, id, AnyVersion)
	if err != nil {
		return decision{}, err
	}
	theirs, err := s.load(ctx, to, id, AnyVersion)
	if review.KindOf(err) == review.KindBlind {
		err = review.MayNotTakeOver(to, now.Submission)
	}
	if err != nil {
		return decision{}, err
	}
	if theirs.Submission.Seq != now.Submission.Seq {
		return decision{}, ErrRace
	}
	holdings, err := s.store.Holdings(ctx, to.Person, now.Moment.Now)
	if err != nil {
		return decision{}, err
	}
	if len(holdings)+together > now.Policy.MostHolds() {
		return decision{}, review.MayNotTakeOver(to, now.Submission)
	}
	now.Rests.Holds = &review.MostHeld{Person: to.Person, At: now.Moment.Now, Most: now.Policy.MostHolds()}
	made, err := review.DecidePassHold(now, theirs, holdings, reason)
	return decision{now, made}, err
}

// EndHoldsOf ends all holds of a person in one transaction, so that others may look at what they held.
func (s *Service) EndHoldsOf(ctx context.Context, by review.Actor, person string) error {
	_, err := again(ctx, func() (Done, error) {
		holdings, err := s.HoldingsOf(ctx, by, person)
		if err != nil {
			return Done{}, err
		}
		var decided []decision
		for _, h := range holdings {
			now, err := s.load(ctx, by, h.Submission, AnyVersion)
			if err != nil {
				return Done{}, err
			}
			made, err := review.DecideEndHold(now.Moment, now.Submission)
			if review.KindOf(err) == review.KindConflict { // it has been ended meanwhile
				continue
			}
			if err != nil {
				return Done{}, err
			}
			decided = append(decided, decision{now, made})
		}
		return Done{}, s.carryOutTogether(ctx, decided)
	})
	return err
}

// carryOutTogether commits what was decided on several submissions as one act. It is for what neither assesses nor closes any of them:
// the tables of the first one's group stand for all that it rests on.
func (s *Service) carryOutTogether(ctx context.Context, decided []decision) error {
	if len(decided) == 0 {
		return nil
	}
	rests := *decided[0].Rests
	rests.Versions = map[string]int{}
	m := decided[0].Moment
	for _, d := range decided {
		if d.Rests.Policy != rests.Policy || d.Rests.Group == rests.Group && d.Rests.Release != rests.Release {
			return ErrRace
		}
		for specimen, version := range d.Rests.Versions {
			if known, twice := rests.Versions[specimen]; twice && known != version {
				return ErrRace
			}
			rests.Versions[specimen] = version
		}
		m = m.NotBefore(d.Moment.Now)
	}
	w := review.NewWriter(m)
	for _, d := range decided {
		if err := d.Write(w, d.made); err != nil {
			return err
		}
	}
	w.Batch.Rests = &rests
	return s.commit(ctx, w)
}

package service

import (
	"context"

	"revidit/review"
	"revidit/review/audit"
)

// Seeing is what somebody turned out to see well, for that person alone: reliability by region of the body, and the pairs of states
// that others saw differently on specimens whose submissions are all closed. What is said of others is sealed, so that it takes
// no part.
type Seeing struct {
	Group string
	Known review.PersonKnown // zero where nothing is known yet
	Pairs []audit.Mixed
	// Stated is how many of their statements stand on closed specimens, of the latest that are looked at, and Differently on how
	// many of these somebody saw another state.
	Stated, Differently int
}

// seeingLatest is how many closed specimens of the group are looked through for one's own.
const seeingLatest = 1000

// Seeing is that of the actor.
func (s *Service) Seeing(ctx context.Context, actor review.Actor, group string) (Seeing, error) {
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return Seeing{}, err
	}
	out := Seeing{Group: judge.Tables().Group.ID}
	known, err := s.reliabilityOf(ctx, out.Group, []string{actor.Person})
	if err != nil {
		return out, err
	}
	out.Known = known.People[actor.Person]
	closed, _, err := s.store.FindTestimonies(ctx, TestimonyFilter{Group: out.Group, Latest: true, Unread: func(string) {}}, Page{Size: seeingLatest})
	if err != nil {
		return out, err
	}
	out.Pairs, out.Stated, out.Differently = audit.MixedUp(actor.Person, closed)
	return out, nil
}

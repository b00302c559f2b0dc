package service

import (
	"context"

	"revidit/review"
)

// Reliability is the present snapshot of a group: whole for curators, otherwise what is known of the actor alone.
func (s *Service) Reliability(ctx context.Context, actor review.Actor, group string) (review.Reliability, map[string]string, error) {
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return review.Reliability{}, nil, err
	}
	r, err := s.store.Reliability(ctx, judge.Tables().Group.ID)
	if err != nil {
		return review.Reliability{}, nil, err
	}
	return s.reliabilityFor(ctx, actor, r)
}

// ReliabilityAt is the snapshot of a version, computed again from the events; seen as Reliability is.
func (s *Service) ReliabilityAt(ctx context.Context, actor review.Actor, group string, version int) (review.Reliability, map[string]string, error) {
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return review.Reliability{}, nil, err
	}
	id := judge.Tables().Group.ID
	events, err := s.store.Events(ctx, review.ReliabilityStream(id))
	if err != nil {
		return review.Reliability{}, nil, err
	}
	if version < 0 || version > len(events) {
		return review.Reliability{}, nil, review.Errorf(review.KindNotFound, "There is no version %d of the reliabilities of %s; the latest is %d.", version, id, len(events))
	}
	r, err := review.ReplayReliability(id, events[:version])
	if err != nil {
		return review.Reliability{}, nil, err
	}
	return s.reliabilityFor(ctx, actor, r)
}

func (s *Service) reliabilityFor(ctx context.Context, actor review.Actor, r review.Reliability) (review.Reliability, map[string]string, error) {
	if !review.May(actor, review.ActReadFigures, "") {
		own := map[string]review.PersonKnown{}
		if known, ok := r.People[actor.Person]; ok {
			own[actor.Person] = known
		}
		r.People, r.Added = own, []string{}
	}
	var ids []string
	for id := range r.People {
		ids = append(ids, id)
	}
	names, err := s.names(ctx, ids)
	return r, names, err
}

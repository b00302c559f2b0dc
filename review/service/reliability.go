package service

import (
	"context"
	"slices"
	"strings"

	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/judgement"
)

// Reliability is the present snapshot of a group as the actor may see it (review.Reliability.SeenBy).
func (s *Service) Reliability(ctx context.Context, actor review.Actor, group string) (review.Reliability, map[string]string, error) {
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return review.Reliability{}, nil, err
	}
	var r review.Reliability
	if id := judge.Tables().Group.ID; review.May(actor, review.ActReadFigures, "") {
		r, err = s.reliability(ctx, id)
	} else {
		r, err = s.reliabilityOf(ctx, id, []string{actor.Person})
	}
	if err != nil {
		return review.Reliability{}, nil, err
	}
	if len(r.Unread) > 0 && review.May(actor, review.ActReadFigures, "") {
		r.Warnings = append(slices.Clone(r.Warnings), confidence.Of(confidence.FromHistory, strings.Join(r.Unread, ", ")))
	}
	return s.reliabilityFor(ctx, actor, r)
}

// reliability is the present snapshot of a group. Where a stored row cannot be read it is what the events make: names settle by
// it and more is learnt upon it, so that nothing takes the place of what was known of a person.
func (s *Service) reliability(ctx context.Context, group string) (review.Reliability, error) {
	r, err := s.store.Reliability(ctx, group)
	if err != nil {
		return r, err
	}
	return s.restored(ctx, r)
}

// reliabilityOf is reliability with nobody in it but these persons, where all can be read.
func (s *Service) reliabilityOf(ctx context.Context, group string, persons []string) (review.Reliability, error) {
	r, err := s.store.ReliabilityOf(ctx, group, persons)
	if err != nil {
		return r, err
	}
	return s.restored(ctx, r)
}

// restored is a snapshot with what could not be read of it, made from the events.
func (s *Service) restored(ctx context.Context, r review.Reliability) (review.Reliability, error) {
	if len(r.Unread) == 0 {
		return r, nil
	}
	s.tellUnread("a record cannot be read and is worked out from its events each time; revidit rebuild mends it", r.Unread...)
	events, err := s.store.Events(ctx, review.ReliabilityStream(r.Group))
	if err != nil {
		return r, err
	}
	made, err := review.ReplayReliability(r.Group, events)
	made.Unread = r.Unread
	return made, err
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
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return review.Reliability{}, nil, err
	}
	r = r.SeenBy(actor, policy)
	var ids []string
	for id := range r.People {
		ids = append(ids, id)
	}
	names, err := s.names(ctx, ids)
	return r, names, err
}

// AskedFirst are the questions of the wider group that a group's form asks of a member who is new (Reliability.New), and of
// who has answered them already; none of anybody else.
func (s *Service) AskedFirst(ctx context.Context, actor review.Actor, group string, answered bool) ([]judgement.Next, error) {
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return nil, err
	}
	known, err := s.reliabilityOf(ctx, judge.Tables().Group.ID, []string{actor.Person})
	if err != nil || !answered && !known.New(actor.Person, actor.Role) {
		return nil, err
	}
	return judge.WiderQuestions(), nil
}

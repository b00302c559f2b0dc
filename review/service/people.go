package service

import (
	"context"
	"slices"

	"revidit/review"
)

// mostPeople is how many a list of people has.
const mostPeople = 50

// People are the first persons with an account, by name, that a filter lets through: for forms that name one.
func (s *Service) People(ctx context.Context, f PeopleFilter) ([]review.Person, error) {
	return s.store.FindPeople(ctx, f, mostPeople)
}

// OnlyCurator says whether the actor is a curator and the club has no other one who could act.
func (s *Service) OnlyCurator(ctx context.Context, actor review.Actor) (bool, error) {
	curators, err := s.store.Curators(ctx)
	return err == nil && len(curators) == 1 && curators[0] == actor.Person, err
}

// Names are the names of persons, by id; "(name erased)" where it was.
func (s *Service) Names(ctx context.Context, ids []string) (map[string]string, error) {
	return s.names(ctx, ids)
}

const erasedName = "(name erased)"

func (s *Service) names(ctx context.Context, ids []string) (map[string]string, error) {
	slices.Sort(ids)
	ids = slices.DeleteFunc(slices.Compact(ids), func(id string) bool { return id == "" })
	people, err := s.store.People(ctx, ids)
	if err != nil {
		return nil, err
	}
	names := map[string]string{}
	for _, id := range ids {
		names[id] = erasedName
		if p, ok := people[id]; ok && p.Name != "" {
			names[id] = p.Name
		}
	}
	return names, nil
}

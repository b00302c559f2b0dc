package service

import (
	"context"
	"slices"

	"revidit/review"
)

// People are all persons with an account, for forms that name one.
func (s *Service) People(ctx context.Context) ([]review.Person, error) {
	return s.store.FindPeople(ctx)
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

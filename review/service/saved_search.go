package service

import (
	"context"

	"revidit/review"
)

// SavedSearches are those of the actor, the oldest first.
func (s *Service) SavedSearches(ctx context.Context, actor review.Actor) ([]review.SavedSearch, error) {
	return s.store.SavedSearches(ctx, actor.Person)
}

// SaveSearch keeps a search of the list of submissions for the actor alone.
func (s *Service) SaveSearch(ctx context.Context, actor review.Actor, name, query string) (review.SavedSearch, error) {
	saved, err := review.NewSavedSearch(s.moment(actor), name, query)
	if err != nil {
		return saved, err
	}
	return s.store.SaveSearch(ctx, saved)
}

// RemoveSearch removes one of the actor's.
func (s *Service) RemoveSearch(ctx context.Context, actor review.Actor, id string) error {
	return s.store.RemoveSearch(ctx, actor.Person, id)
}

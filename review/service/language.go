package service

import (
	"context"

	"revidit/review"
)

// SetLanguage notes in which language an actor reads, as a tag of BCP 47; empty: as each request says. Letters are written in it.
func (s *Service) SetLanguage(ctx context.Context, actor review.Actor, tag string) error {
	if err := review.CheckLanguage(tag); err != nil {
		return err
	}
	return s.store.SetLanguage(ctx, actor, tag)
}

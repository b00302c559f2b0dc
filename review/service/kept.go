package service

import (
	"context"
	"time"

	"revidit/review"
)

// formsKept is how long a form waits for its sender to log in again.
const formsKept = 24 * time.Hour

// KeepForm keeps what somebody sent whose login had run out, and returns the id by which that person finds it.
func (s *Service) KeepForm(ctx context.Context, person, path string, values map[string][]string) (id string, err error) {
	m := s.moment(review.Actor{Person: person})
	form := review.KeptForm{ID: m.NewID(), Person: person, Path: path, Values: values, At: m.Now}
	return form.ID, s.store.KeepForm(ctx, form)
}

// KeptForm is a form that was kept for the actor; a KindNotFound error where there is none, or where it is somebody else's.
func (s *Service) KeptForm(ctx context.Context, actor review.Actor, id string) (review.KeptForm, error) {
	form, err := s.store.KeptForm(ctx, actor.Person, id)
	if err == nil && s.now().Sub(form.At) > formsKept {
		return review.KeptForm{}, review.Errorf(review.KindNotFound, "This form was kept for a day and is gone.")
	}
	return form, err
}

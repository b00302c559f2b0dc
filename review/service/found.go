package service

import (
	"context"
	"reflect"

	"revidit/review"
)

// What jobs have found can be made anew at any time, so that one that cannot be read any more keeps nobody from anything: it
// counts as not made, the log says so, and a job makes it again.
const unreadFound = "something that a job has found cannot be read and is made anew"

// found is what was found last, read into a value, which stays as it is where there is none.
func (s *Service) found(ctx context.Context, kind review.FoundKind, group, key string, into any) (review.Found, error) {
	f, err := s.store.Found(ctx, kind, group, key)
	if err != nil || f.Made == nil {
		return f, err
	}
	if !s.reads(&f, f.Decode, into) {
		f.Made, f.Body = nil, nil
	}
	return f, nil
}

// foundSoFar is what a walk under way has found, read into a value; false where it is to begin again.
func (s *Service) foundSoFar(ctx context.Context, kind review.FoundKind, group, key string, into any) (bool, error) {
	f, err := s.store.Found(ctx, kind, group, key)
	return err == nil && s.reads(&f, f.DecodePartial, into), err
}

// reads decodes into a value, or leaves it as it is and tells.
func (s *Service) reads(f *review.Found, decode func(any) error, into any) bool {
	to := reflect.ValueOf(into).Elem()
	fresh := reflect.New(to.Type())
	fresh.Elem().Set(to)
	if err := decode(fresh.Interface()); err != nil {
		s.tellUnread(unreadFound, "finding/"+string(f.Kind)+"/"+f.Group+"/"+f.Key)
		return false
	}
	to.Set(fresh.Elem())
	return true
}

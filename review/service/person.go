package service

import (
	"context"
	"time"

	"revidit/review"
)

// PersonCount is how many submissions a person has determined or said something of; of others' those that are closed.
type PersonCount struct {
	Determined int `json:"determined"`
	Confirmed  int `json:"confirmed" doc:"Closed ones of which the person confirmed an observation"`
	Disputed   int `json:"disputed" doc:"Closed ones of which the person disputed an observation"`
	Agrees     int `json:"agrees" doc:"Closed ones of which the person agreed with the name"`
	Another    int `json:"another" doc:"Closed ones of which the person gave another name"`
}

// PersonView is what is shown of a person.
type PersonView struct {
	ID     string      `json:"id"`
	Name   string      `json:"name" doc:"\"(name erased)\" where it was erased"`
	Role   review.Role `json:"role" doc:"Empty where the person has no account"`
	Erased bool        `json:"erased"`
	// Families are those that a reviewer is named for.
	Families []string `json:"families,omitempty" doc:"Families that a reviewer is named for; left out: all"`
	// ErasedAt and ErasedWhy are when that was, and the reason that was given for it.
	ErasedAt  *time.Time  `json:"erased_at,omitempty"`
	ErasedWhy string      `json:"erased_why,omitempty" doc:"Empty where none was given: it was not asked for before"`
	Counts    PersonCount `json:"counts" doc:"1001 stands for any number above 1000"`
}

// Person is what a person has determined and said, for curators and for the person.
func (s *Service) Person(ctx context.Context, actor review.Actor, id string) (PersonView, error) {
	if !review.May(actor, review.ActReadPerson, id) {
		return PersonView{}, review.Forbidden(actor, review.ActReadPerson, id)
	}
	people, err := s.store.People(ctx, []string{id})
	if err != nil {
		return PersonView{}, err
	}
	p, ok := people[id]
	if !ok {
		return PersonView{}, review.Errorf(review.KindNotFound, "There is no person %s.", id)
	}
	v := PersonView{ID: id, Role: p.Role, Families: p.Families, Erased: p.Name == ""}
	names, err := s.names(ctx, []string{id})
	if err != nil {
		return v, err
	}
	v.Name = names[id]
	if v.Erased {
		if err := s.tellErasing(ctx, &v); err != nil {
			return v, err
		}
	}
	v.Counts, err = s.store.CountOfPerson(ctx, id, MostCounted+1)
	return v, err
}

// tellErasing fills in when and why a person was erased.
func (s *Service) tellErasing(ctx context.Context, v *PersonView) error {
	events, err := s.store.Events(ctx, review.AccountStream(v.ID))
	if err != nil {
		return err
	}
	for _, e := range events {
		if erased, ok := e.Change.(*review.PersonErased); ok {
			v.ErasedAt, v.ErasedWhy = &e.At, erased.Reason
		}
	}
	return nil
}

// PersonReliability is what is known of one person's reading of a group's characters, with nobody else in it: nobody where the
// policy shows the actor totals alone (review.Reliability.SeenBy). shown says whether it is theirs to see at all.
func (s *Service) PersonReliability(ctx context.Context, actor review.Actor, group, id string) (r review.Reliability, names map[string]string, shown bool, err error) {
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return r, nil, false, err
	}
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return r, nil, false, err
	}
	if actor.Person != id && !(review.May(actor, review.ActReadFigures, "") && policy.ShowsNames()) {
		return r, nil, false, nil
	}
	if r, err = s.reliabilityOf(ctx, judge.Tables().Group.ID, []string{id}); err != nil {
		return r, nil, false, err
	}
	for other := range r.People { // what was restored from the events is of everybody
		if other != id {
			delete(r.People, other)
		}
	}
	names, err = s.names(ctx, []string{id})
	return r, names, true, err
}

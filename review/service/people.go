package service

import (
	"context"
	"encoding/json"
	"slices"
	"strings"

	"revidit/review"
)

// mostPeople is how many a list of people has.
const mostPeople = 50

// People are the first persons with an account, by name, that a filter lets through: for forms that name one.
func (s *Service) People(ctx context.Context, f PeopleFilter) ([]review.Person, error) {
	return s.store.FindPeople(ctx, f, mostPeople)
}

// ListPeople are all with an account, by name: a page of them. Where a name is looked for it is the first page alone, since who looks
// for one of many types more of it.
func (s *Service) ListPeople(ctx context.Context, actor review.Actor, name string, page Page) (people []review.Person, next string, err error) {
	if page, err = checkPage(page); err != nil {
		return nil, "", err
	}
	place, filter := cursorPlace{List: "people", Person: actor.Person, Filter: name}, PeopleFilter{Name: name}
	if page.Cursor, err = s.cursors.open(place, page.Cursor); err != nil {
		return nil, "", err
	}
	if page.Cursor != "" {
		filter.After = &review.Person{}
		if err := json.Unmarshal([]byte(page.Cursor), filter.After); err != nil {
			return nil, "", foreignCursor()
		}
	}
	if people, err = s.store.FindPeople(ctx, filter, page.Size); err != nil || len(people) < page.Size || name != "" {
		return people, "", err
	}
	last, err := encode(people[len(people)-1])
	if err != nil {
		return nil, "", err
	}
	next, err = s.cursors.seal(place, string(last))
	return people, next, err
}

// KnownPeople says which ids are of persons, with an account or without.
func (s *Service) KnownPeople(ctx context.Context, ids []string) (map[string]bool, error) {
	people, err := s.store.People(ctx, ids)
	known := map[string]bool{}
	for id := range people {
		known[id] = true
	}
	return known, err
}

// OnlyCurator says whether the actor is a curator and the club has no other one who could act.
func (s *Service) OnlyCurator(ctx context.Context, actor review.Actor) (bool, error) {
	curators, err := s.store.Curators(ctx)
	return err == nil && len(curators) == 1 && curators[0] == actor.Person, err
}

// Names are the names of persons, by id; ErasedName where it was, with NoAccount behind it where somebody wrote it by hand, and
// ProgramName for the program.
func (s *Service) Names(ctx context.Context, ids []string) (map[string]string, error) {
	return s.names(ctx, ids)
}

// ErasedName stands for a name that was erased, in Names and in files; pages say it in their language.
const ErasedName = "(name erased)"

// ProgramName is the name of review.ProgramActor, who is no person and has none that could be erased: the program did it by itself, or
// whoever keeps the server by its command line.
const ProgramName = "Revidit (program)"

// NoAccount stands behind the name of a person who has no account, as of the determiner of an old slip: it was written by
// hand, and is nobody who acts here, whatever they are called.
const NoAccount = " (no account)"

// WrittenName is a name as it was written, without NoAccount.
func WrittenName(name string) string { return strings.TrimSuffix(name, NoAccount) }

// namesWith is names, of which some are of determiners whom drafts name by hand.
func (s *Service) namesWith(ctx context.Context, written []review.Person, ids []string) (map[string]string, error) {
	names, err := s.names(ctx, ids)
	for _, p := range written {
		if _, asked := names[p.ID]; asked {
			names[p.ID] = p.Name + NoAccount
		}
	}
	return names, err
}

func (s *Service) names(ctx context.Context, ids []string) (map[string]string, error) {
	slices.Sort(ids)
	ids = slices.DeleteFunc(slices.Compact(ids), func(id string) bool { return id == "" })
	people, err := s.store.People(ctx, ids)
	if err != nil {
		return nil, err
	}
	names := map[string]string{}
	for _, id := range ids {
		if id == review.ProgramActor {
			names[id] = ProgramName
			continue
		}
		names[id] = ErasedName
		p, ok := people[id]
		if !ok || p.Name == "" {
			continue
		}
		if names[id] = p.Name; p.Role == "" {
			names[id] += NoAccount
		}
	}
	return names, nil
}

// CheckFamilies returns which of some families no tables in force have, as a KindInvalid error of the field families, for whoever may
// name reviewers for them.
func (s *Service) CheckFamilies(ctx context.Context, actor review.Actor, families []string) error {
	if !review.May(actor, review.ActKeepReviewers, "") {
		return review.Forbidden(actor, review.ActKeepReviewers, "")
	}
	groups, err := s.Groups(ctx)
	if err != nil {
		return err
	}
	var problems review.Problems
	for i, family := range families {
		if !knownFamily(groups, family) {
			problems.Addf(review.FieldOf("families", i), "is not a family of these tables%s", didYouMean(groups, family))
		}
	}
	return problems.Err()
}

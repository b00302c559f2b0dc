package service

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"revidit/review"
	"revidit/review/judgement"
)

// Policy is the one in force; everybody may read it.
func (s *Service) Policy(ctx context.Context) (review.Policy, error) {
	return s.store.Policy(ctx)
}

// SetPolicy puts a new policy in force. version is that of the policy on which it was decided, or AnyVersion.
func (s *Service) SetPolicy(ctx context.Context, actor review.Actor, version int, p review.Policy) (review.Policy, error) {
	if !review.May(actor, review.ActSetPolicy, "") {
		return review.Policy{}, review.Forbidden(actor, review.ActSetPolicy, "")
	}
	former, err := s.store.Policy(ctx)
	if err != nil {
		return review.Policy{}, err
	}
	if version != AnyVersion && version != former.Version {
		return review.Policy{}, review.Errorf(review.KindStale, "The policy has changed since you opened it (version %d, now %d). Nothing was stored: look at it again.", version, former.Version)
	}
	if err := s.checkPolicy(ctx, p); err != nil {
		return review.Policy{}, err
	}
	m := s.moment(actor).NotBefore(former.At)
	p.Version, p.By, p.At, p.Reason = former.Version+1, actor.Person, m.Now, strings.TrimSpace(p.Reason)
	if p.Experts == nil {
		p.Experts = map[string][]string{}
	}
	w := review.NewWriter(m)
	w.Batch.Events = []review.Event{w.Event(review.PolicyStream, p.Version, &review.PolicySet{Policy: p})}
	w.Batch.Policy = &p
	return p, s.commit(ctx, w)
}

func (s *Service) checkPolicy(ctx context.Context, p review.Policy) error {
	if err := p.Check(); err != nil {
		return err
	}
	people, err := s.store.People(ctx, slices.Concat(slices.Collect(maps.Values(p.Experts))...))
	if err != nil {
		return err
	}
	groups, err := s.Groups(ctx)
	if err != nil {
		return err
	}
	var problems review.Problems
	for _, family := range slices.Sorted(maps.Keys(p.List)) {
		if !knownFamily(groups, family) {
			problems.Addf("list."+family, "is not a family of these tables%s", didYouMean(groups, family))
		}
	}
	for _, part := range slices.Sorted(maps.Keys(p.Mix)) {
		if !knownPart(groups, part) {
			problems.Addf("mix."+part, "is no fauna of these tables; allowed are %s", strings.Join(Parts(groups), ", "))
		}
	}
	for family, named := range p.Experts {
		field := fmt.Sprintf("experts.%s", family)
		if !knownFamily(groups, family) {
			problems.Addf(field, "is not a family of these tables%s", didYouMean(groups, family))
		}
		if len(named) > 50 {
			problems.Addf(field, "at most 50 people")
		}
		for _, id := range named {
			switch named := people[id]; {
			case !named.Role.Reviews():
				problems.Addf(field, "%s is not a reviewer", id)
			case !review.FamiliesOf(named.Families).Cover(family):
				problems.Addf(field, "%s is named as a reviewer for other families alone", id)
			}
		}
	}
	return problems.Err()
}

// Parts are those of which a prior can be mixed: the faunas of all groups, the club's list and the world.
func Parts(groups []*judgement.Judge) []string {
	ids := []string{judgement.MixList, judgement.MixWorld}
	for _, j := range groups {
		for _, fauna := range j.Tables().Faunas {
			ids = append(ids, fauna.ID)
		}
	}
	return ids
}

func knownPart(groups []*judgement.Judge, part string) bool {
	return slices.Contains(Parts(groups), part)
}

// didYouMean are the nearest names of the first group that has any.
func didYouMean(groups []*judgement.Judge, name string) string {
	for _, j := range groups {
		if near := j.Tables().DidYouMean(name); near != "" {
			return near
		}
	}
	return ""
}

func knownFamily(groups []*judgement.Judge, name string) bool {
	for _, j := range groups {
		if _, ok := j.Tables().Family(name); ok {
			return true
		}
	}
	return false
}

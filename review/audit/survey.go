package audit

import (
	"fmt"

	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/judgement"
)

// Survey takes in closed specimens one by one for the figures on agreement, and keeps no more of each than who held which
// state to be true. Agreement is what Agree gives for all of them.
type Survey struct {
	judge     *judgement.Judge
	people    review.Reliability
	list      map[string]float64
	specimens int
	sets      []*ratings
	copying   map[couple]*confidence.DepartureSum
	names     map[string]string // ids of persons, each kept once
}

// ratings are those of one way of looking, by character.
type ratings struct {
	looks       Looks
	observer    bool
	byCharacter [][]unit
}

// NewSurvey begins with none. people and list are what the states of characters are weighed by.
func NewSurvey(j *judgement.Judge, people review.Reliability, list map[string]float64) *Survey {
	s := &Survey{judge: j, people: people, list: list, copying: map[couple]*confidence.DepartureSum{}, names: map[string]string{}}
	for _, looks := range []Looks{LooksBlind, LooksShown} {
		for _, observer := range []bool{true, false} {
			s.sets = append(s.sets, &ratings{looks: looks, observer: observer, byCharacter: make([][]unit, len(j.Tables().Characters))})
		}
	}
	return s
}

// Add takes in one specimen.
func (s *Survey) Add(c *review.Closed) error {
	items := itemsOf(s.judge, c, review.Weighing{People: &s.people, List: s.list})
	for i := range items {
		it := &items[i]
		it.specimen = s.specimens
		for k := range it.said {
			it.said[k].person = s.name(it.said[k].person)
		}
		for _, set := range s.sets {
			set.add(it)
		}
		if err := s.compare(it); err != nil {
			return fmt.Errorf("specimen %s: %w", c.Specimen.ID, err)
		}
	}
	s.specimens++
	return nil
}

// name is an id in memory that all its uses share.
func (s *Survey) name(id string) string {
	if known, ok := s.names[id]; ok {
		return known
	}
	s.names[id] = id
	return id
}

// add takes in the ratings of a unit with at least two.
func (r *ratings) add(it *item) {
	held := it.heldBy(r.looks, r.observer)
	if len(held) < 2 {
		return
	}
	u := unit{specimen: it.specimen, character: it.character, ratings: make([]rating, len(held))}
	for i, s := range held {
		u.ratings[i] = rating{s.person, s.held()}
	}
	r.byCharacter[it.character] = append(r.byCharacter[it.character], u)
}

// compare takes in what every two people say who looked at what somebody else had recorded. A blind look takes the place
// of a verdict by the same person.
func (s *Survey) compare(it *item) error {
	recorded := it.firstStated()
	if recorded < 0 {
		return nil
	}
	looked := it.lookers()
	for x, a := range looked {
		for _, b := range looked[x+1:] {
			who := couple{a.person, b.person}
			if s.copying[who] == nil {
				s.copying[who] = &confidence.DepartureSum{}
			}
			d := departure(s.judge, it, &s.people, recorded, a, b)
			if err := s.copying[who].Add(&d, judgement.SharedError); err != nil {
				return err
			}
		}
	}
	return nil
}

// Agreement is that of all specimens that were added.
func (s *Survey) Agreement() (Agreement, error) {
	out := Agreement{Group: s.judge.Tables().Group.ID, Specimens: s.specimens, Sets: []AgreementSet{}}
	for _, r := range s.sets {
		set, err := agreementSet(s.judge, r.byCharacter, r.looks, r.observer)
		if err != nil {
			return out, err
		}
		out.Sets = append(out.Sets, set)
	}
	out.Copying = copyingOf(s.copying)
	return out, nil
}

package judgement

import (
	"slices"
	"strings"
)

// formSet is a set of forms of one family, by index. Families have far fewer than 64.
type formSet uint64

// shownBy is the set of forms in which a finding occurs. A form without a cell may show anything.
func (f *Finding) shownBy(forms []indexedForm) formSet {
	var set formSet
	for i := range forms {
		cell := forms[i].cells[f.Index].Cell
		if cell == nil || f.probability(cell) > 0 {
			set |= 1 << i
		}
	}
	return set
}

// combination reports the smallest set of findings that each occur in the family but in no form of it together.
func (j *Judge) combination(s *scratch) {
	forms := j.formsOf(&s.gathered)
	s.several, s.sets = s.several[:0], s.sets[:0]
	together := ^formSet(0)
	for i := range s.gathered.findings {
		f := &s.gathered.findings[i]
		set := f.shownBy(forms)
		// What occurs nowhere is excluded by itself, and what never excludes may not do it in company.
		if set == 0 || f.Character.NeverExcludes {
			continue
		}
		s.several, s.sets = append(s.several, f), append(s.sets, set)
		together &= set
	}
	if together != 0 || len(s.sets) == 0 {
		return
	}
	s.chosen = smallestDisjoint(s.sets, s.chosen[:0])
	s.found = append(s.found, j.apart(s, forms))
}

// smallestDisjoint returns the indices of the fewest sets without a common element; there is one such choice at least.
// They are appended to room. It grows with the number of forms, never with that of findings: each set taken removes a form of those left.
func smallestDisjoint(sets []formSet, room []int) []int {
	for size := 2; ; size++ {
		if chosen := disjoint(sets, 0, size, ^formSet(0), room); chosen != nil {
			return chosen
		}
	}
}

func disjoint(sets []formSet, from, size int, left formSet, chosen []int) []int {
	if left == 0 {
		return chosen
	}
	if size == 0 {
		return nil
	}
	for i := from; i < len(sets); i++ {
		if left&sets[i] == left {
			continue // takes nothing away, so that it belongs to no smallest choice
		}
		if found := disjoint(sets, i+1, size-1, left&sets[i], append(chosen, i)); found != nil {
			return found
		}
	}
	return nil
}

// apart is the contradiction of the chosen findings.
func (j *Judge) apart(s *scratch, forms []indexedForm) Contradiction {
	first := s.several[s.chosen[0]]
	c := Contradiction{Kind: Combination, Character: first.Character.ID, State: first.ID, Family: s.gathered.family.Name}
	c.With = make([]Selected, 0, len(s.chosen)-1)
	for _, i := range s.chosen[1:] {
		c.With = append(c.With, Selected{s.several[i].Character.ID, s.several[i].ID})
	}
	s.sources = s.sources[:0]
	for _, i := range s.chosen {
		if source := j.sourceOf(forms, s.sets[i], s.several[i].Index); !slices.Contains(s.sources, source) {
			s.sources = append(s.sources, source)
		}
	}
	c.Source = strings.Join(s.sources, "; ")
	return c
}

// sourceOf cites the first form of the set that has a cell.
func (j *Judge) sourceOf(forms []indexedForm, set formSet, character int) string {
	for i := range forms {
		if set&(1<<i) != 0 && forms[i].cells[character].Cell != nil {
			return forms[i].cells[character].source
		}
	}
	return j.index.definition
}

package judgement

import (
	"cmp"
	"slices"

	"revidit/review/diagnosis"
)

// incompatible compares the findings with the rules that hold whatever the family.
func (j *Judge) incompatible(s *scratch) {
	j.fillFirst(s)
	begin := len(s.found)
	for i, rule := range j.tables.Incompatible {
		j.clashes(s, j.index.pairs[i], rule.ID, func(a, b *Finding) bool { return a.in(rule.First) && b.in(rule.Second) })
	}
	for i, rule := range j.tables.AtMost {
		j.clashes(s, j.index.atMost[i], rule.ID, func(a, b *Finding) bool { return a.count() > b.count() })
	}
	slices.SortStableFunc(s.found[begin:], func(a, b Contradiction) int {
		return cmp.Compare(j.tables.CharacterIndex(a.Character), j.tables.CharacterIndex(b.Character))
	})
}

// fillFirst notes where the findings of each character begin.
func (j *Judge) fillFirst(s *scratch) {
	s.first = resized(s.first, len(j.tables.Characters))
	for c := range s.first {
		s.first[c] = -1
	}
	for i, f := range slices.Backward(s.gathered.findings) {
		s.first[f.Index] = i
	}
}

// clashes are the findings of two characters that cannot both be true.
func (j *Judge) clashes(s *scratch, pair indexedPair, rule string, clash func(a, b *Finding) bool) {
	if s.first[pair.first] < 0 || s.first[pair.second] < 0 {
		return
	}
	findings := s.gathered.findings
	for a := s.first[pair.first]; a < len(findings) && findings[a].Index == pair.first; a++ {
		for b := s.first[pair.second]; b < len(findings) && findings[b].Index == pair.second; b++ {
			if clash(&findings[a], &findings[b]) {
				s.found = append(s.found, j.clash(s, &findings[a], &findings[b], rule))
			}
		}
	}
}

func (f *Finding) in(s diagnosis.Selection) bool { return slices.Contains(s.States, f.ID) }

// count is the number that a count character states.
func (f *Finding) count() int { return int(f.Character.Min) + f.State }

func (j *Judge) clash(s *scratch, a, b *Finding, rule string) Contradiction {
	return Contradiction{Kind: Incompatible, Character: a.Character.ID, State: a.ID, Family: s.gathered.familyName(), Source: j.index.definition,
		With: []Selected{{b.Character.ID, b.ID}}, Rule: rule}
}

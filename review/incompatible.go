package review

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
		j.clashes(s, j.index.pairs[i], rule.Because, func(a, b *finding) bool { return a.in(rule.First) && b.in(rule.Second) })
	}
	for i, rule := range j.tables.AtMost {
		j.clashes(s, j.index.atMost[i], rule.Because, func(a, b *finding) bool { return a.count() > b.count() })
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
		s.first[f.index] = i
	}
}

// clashes are the findings of two characters that cannot both be true.
func (j *Judge) clashes(s *scratch, pair indexedPair, because string, clash func(a, b *finding) bool) {
	if s.first[pair.first] < 0 || s.first[pair.second] < 0 {
		return
	}
	findings := s.gathered.findings
	for a := s.first[pair.first]; a < len(findings) && findings[a].index == pair.first; a++ {
		for b := s.first[pair.second]; b < len(findings) && findings[b].index == pair.second; b++ {
			if clash(&findings[a], &findings[b]) {
				s.found = append(s.found, j.clash(&s.gathered, &findings[a], &findings[b], because))
			}
		}
	}
}

func (f *finding) in(s diagnosis.Selection) bool { return slices.Contains(s.States, f.id) }

// count is the number that a count character states.
func (f *finding) count() int { return int(f.character.Min) + f.state }

func (j *Judge) clash(g *gathered, a, b *finding, because string) Contradiction {
	return Contradiction{Kind: Incompatible, Character: a.character.ID, State: a.id, Family: g.familyName(),
		With: []Selected{{b.character.ID, b.id}},
		Reason: a.character.Label + " " + j.words(a) + " and " + b.character.Label + " " + j.words(b) +
			" cannot both be true: " + because + ".",
		Source:  j.index.definition,
		Resolve: "One of the two is misread. " + j.index.characters[a.index].lookAgain + " " + j.index.characters[b.index].lookAgain}
}

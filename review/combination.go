package review

import (
	"cmp"
	"fmt"
	"math/bits"
	"strings"

	"revidit/review/diagnosis"
)

// formSet is a set of forms of one family, by index. Families have far fewer than 64.
type formSet uint64

// shownBy is the set of forms in which a finding occurs. A form without a cell may show anything.
func (f finding) shownBy(forms []diagnosis.Form) formSet {
	var set formSet
	for i := range forms {
		cell := forms[i].Cells[f.character.ID]
		if cell == nil || f.probability(cell) > 0 {
			set |= 1 << i
		}
	}
	return set
}

// combination reports the smallest set of findings that each occur in the family but in no form of it together.
func (j *Judge) combination(g *gathered) []Contradiction {
	forms := formsOf(g.family, g.sex)
	var findings []finding
	var sets []formSet
	together := ^formSet(0)
	for _, f := range g.findings {
		set := f.shownBy(forms)
		// What occurs nowhere is excluded by itself, and what never excludes may not do it in company.
		if set == 0 || f.character.NeverExcludes {
			continue
		}
		findings, sets = append(findings, f), append(sets, set)
		together &= set
	}
	if together != 0 || len(sets) == 0 {
		return nil
	}
	return []Contradiction{j.apart(g, forms, findings, sets, smallestDisjoint(sets))}
}

// smallestDisjoint returns the indices of the fewest sets without a common element; there is one such choice at least.
// It grows with the number of forms, never with that of findings: each set taken removes a form of those left.
func smallestDisjoint(sets []formSet) []int {
	for size := 2; ; size++ {
		if chosen := disjoint(sets, 0, size, ^formSet(0), nil); chosen != nil {
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

func (j *Judge) apart(g *gathered, forms []diagnosis.Form, findings []finding, sets []formSet, chosen []int) Contradiction {
	first := findings[chosen[0]]
	c := Contradiction{Kind: Combination, Character: first.character.ID, State: first.id, Family: g.family.Name}
	var reasons, sources, looks []string
	for n, i := range chosen {
		f := findings[i]
		if n > 0 {
			c.With = append(c.With, Selected{f.character.ID, f.id})
		}
		reasons = append(reasons, fmt.Sprintf("%s %s occurs in: %s", f.character.Label, f.words(), formNames(forms, sets[i])))
		sources = append(sources, j.sourceOf(forms, sets[i], f.character.ID))
		looks = append(looks, j.lookAgain(f.character))
	}
	c.Reason = "No form of " + g.family.Name + " shows these together. " + strings.Join(reasons, "; ") + "."
	c.Source = strings.Join(unique(sources), "; ")
	c.Resolve = "One of them is misread, or the family is another. " + strings.Join(looks, " ")
	return c
}

func formNames(forms []diagnosis.Form, set formSet) string {
	var names []string
	for i := range forms {
		if set&(1<<i) != 0 {
			names = append(names, cmp.Or(forms[i].Label, forms[i].ID))
		}
	}
	return strings.Join(names, ", ")
}

// sourceOf cites the first form of the set that has a cell.
func (j *Judge) sourceOf(forms []diagnosis.Form, set formSet, character string) string {
	for set != 0 {
		i := bits.TrailingZeros64(uint64(set))
		if i < len(forms) && forms[i].Cells[character] != nil {
			return j.source(forms[i].Cells[character])
		}
		set &= set - 1
	}
	return j.definition()
}

func unique(words []string) []string {
	var out []string
	seen := map[string]bool{}
	for _, w := range words {
		if !seen[w] {
			seen[w] = true
			out = append(out, w)
		}
	}
	return out
}

package diagnosis

import (
	"cmp"
	"slices"
	"strings"
)

// What Coverage calls thin. Assumed, no source: with fewer characters a family is hardly told from a dozen others, and
// a character of a few families says little about the rest.
const (
	FewCharacters = 12
	FewFamilies   = 10
)

// What most determinations rest on: the feet, the antennae, the plates of the abdomen and the elytra of the families with
// the most species. Whether these cells were read matters most. Assumed, no source.
const chiefFamilies = 60

var chiefCharacters = []string{"antenna-", "elytra-", "tarsi-", "tarsus-", "ventrites"}

// besideChief begin as those do, but are seen on the front leg and on the breast.
var besideChief = []string{"antenna-cleaner", "antenna-grooves"}

// Coverage says what the tables rest on and where they are thin.
type Coverage struct {
	Reading // of all cells of the families and of their forms, each once
	// Chief are the cells of the 60 families with the most species on antennae, elytra, tarsi and ventrites, by the ids of
	// the characters; zero where the tables have no such characters.
	Chief Reading
	// Sources are all of the tables, the most cited first.
	Sources []Count
	// ThinFamilies are families with fewer than 12 characters, ThinCharacters those known for fewer than 10 families;
	// the thinnest first. A character is known where every form of the family has a cell for it.
	ThinFamilies, ThinCharacters []Count
}

// Reading is how many cells there are, and what they rest on: a source that was read, one that was read for a part of the
// cell, or one that is cited from memory. The three add up to Cells.
type Reading struct{ Cells, Read, InPart, Memory int }

func (r *Reading) add(basis Basis) {
	r.Cells++
	switch basis {
	case BasisRead:
		r.Read++
	case BasisInPart:
		r.InPart++
	default:
		r.Memory++
	}
}

// Count is how often something occurs.
type Count struct {
	ID string // of a source or character, or the name of a family
	N  int
}

// Coverage counts cells, sources and gaps.
func (t *Tables) Coverage() Coverage {
	var c Coverage
	citing := map[string]int{}
	families := map[string]int{} // by character
	large := t.largest(chiefFamilies)
	for i := range t.Families {
		f := &t.Families[i]
		eachCell(f, func(cell *Cell) {
			citing[cell.Citation.Source]++
			c.add(cell.Citation.Basis)
			if large[f.Name] && isChief(cell.Character) {
				c.Chief.add(cell.Citation.Basis)
			}
		})
		known := 0
		for _, character := range t.Characters {
			if _, ok := f.knows(character.ID); ok {
				known++
				families[character.ID]++
			}
		}
		if known < FewCharacters {
			c.ThinFamilies = append(c.ThinFamilies, Count{f.Name, known})
		}
	}
	for _, s := range t.Sources {
		c.Sources = append(c.Sources, Count{s.ID, citing[s.ID]})
	}
	for _, character := range t.Characters {
		if n := families[character.ID]; n < FewFamilies {
			c.ThinCharacters = append(c.ThinCharacters, Count{character.ID, n})
		}
	}
	sortCounts(c.ThinFamilies, 1)
	sortCounts(c.ThinCharacters, 1)
	sortCounts(c.Sources, -1)
	return c
}

// largest are the names of so many families, those with the most species.
func (t *Tables) largest(n int) map[string]bool {
	counts := make([]Count, len(t.Families))
	for i := range t.Families {
		counts[i] = Count{t.Families[i].Name, t.Families[i].Species}
	}
	sortCounts(counts, -1)
	names := map[string]bool{}
	for _, c := range counts[:min(n, len(counts))] {
		names[c.ID] = true
	}
	return names
}

func isChief(character string) bool {
	return !slices.Contains(besideChief, character) && slices.ContainsFunc(chiefCharacters, func(start string) bool { return strings.HasPrefix(character, start) })
}

// sortCounts sorts by number, the least first with direction 1 and the most with -1, then by id.
func sortCounts(counts []Count, direction int) {
	slices.SortFunc(counts, func(a, b Count) int {
		return cmp.Or(direction*cmp.Compare(a.N, b.N), strings.Compare(a.ID, b.ID))
	})
}

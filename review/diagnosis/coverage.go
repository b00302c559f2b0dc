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

// Coverage says what the tables rest on and where they are thin.
type Coverage struct {
	// Cells are those of the families and of their forms, each once; Read and Memory are how many of them cite a source
	// that was read, and one from memory.
	Cells, Read, Memory int
	// Sources are all of the tables, the most cited first.
	Sources []Count
	// ThinFamilies are families with fewer than 12 characters, ThinCharacters those known for fewer than 10 families;
	// the thinnest first. A character is known where every form of the family has a cell for it.
	ThinFamilies, ThinCharacters []Count
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
	for i := range t.Families {
		f := &t.Families[i]
		eachCell(f, func(cell *Cell) {
			c.Cells++
			citing[cell.Citation.Source]++
			if cell.Citation.Basis == BasisRead {
				c.Read++
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
	c.Memory = c.Cells - c.Read
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

// sortCounts sorts by number, the least first with direction 1 and the most with -1, then by id.
func sortCounts(counts []Count, direction int) {
	slices.SortFunc(counts, func(a, b Count) int {
		return cmp.Or(direction*cmp.Compare(a.N, b.N), strings.Compare(a.ID, b.ID))
	})
}

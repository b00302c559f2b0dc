package judgement

import (
	"cmp"
	"slices"
	"strings"

	"revidit/review/diagnosis"
)

// Example is a specimen made up from the tables, to show what an assessment is: it was given the name of a family that it is easily
// taken for, and one character tells.
type Example struct {
	Family string // what it is
	Taken  string // the name that it was given
	// Stated are what both families usually show, most telling first; Telling is what Family nearly always shows and Taken never,
	// and Instead what Taken shows of the same character most often.
	Stated  []Stated
	Telling Stated
	Instead Stated
}

// Evidence is what was stated under the name that the example was given, with the character that tells or without it.
func (e Example) Evidence(telling bool) Evidence {
	stated := slices.Clone(e.Stated)
	if telling {
		stated = append(stated, e.Telling)
	}
	return Evidence{Family: e.Taken, Stated: stated}
}

// What makes an example clear; the bounds are our own.
const (
	exampleTells  = 0.95 // least share of the telling state in its family
	exampleShared = 0.75 // least share in both families of a state that both show
	exampleStated = 3    // characters that both show
	exampleTried  = 60   // pairs of look-alikes that are tried, those with most species first
)

// Example is made of two look-alikes with many species, of which the tables draw what tells them apart, and place it on a plate of the
// body: of those that were tried the one of which the name taken is likeliest before the telling character is seen, and the right one
// after. It is false where the tables have no such pair, and the same for the same tables.
func (j *Judge) Example() (Example, bool) { return j.example() }

func (j *Judge) makeExample() (best Example, found bool) {
	most, tried := 0.0, 0
	for _, p := range j.lookAlikes() {
		telling, ok := j.excluding(p.is, p.taken)
		if !ok {
			continue
		}
		if tried++; tried > exampleTried {
			break
		}
		e := Example{Family: p.is.Name, Taken: p.taken.Name, Telling: telling, Instead: j.usual(p.taken, telling.Character)}
		for len(e.Stated) < exampleStated && j.addShared(&e, p.is, p.taken) {
		}
		if clear := j.clearness(e); clear > most {
			best, most, found = e, clear, true
		}
	}
	return best, found
}

// clearness is how well an example shows what one character does, from 0 to 1.
func (j *Judge) clearness(e Example) float64 {
	before, after := j.Assess(e.Evidence(false)), j.Assess(e.Evidence(true))
	excluded := slices.ContainsFunc(after.Contradictions, func(c Contradiction) bool { return c.Kind == Excluded && c.Character == e.Telling.Character })
	if len(e.Stated) < exampleStated || len(before.Contradictions) > 0 || !excluded || after.Ranking[0].Family != e.Family {
		return 0
	}
	return before.Confidence * after.Ranking[0].P
}

// takenFor is a family with one that it is easily taken for.
type takenFor struct{ is, taken *diagnosis.Family }

// lookAlikes are those of the tables, by how many species the smaller of the two has, the most first.
func (j *Judge) lookAlikes() []takenFor {
	var all []takenFor
	for i := range j.tables.Families {
		is := &j.tables.Families[i]
		for _, l := range is.LookAlikes {
			if taken, ok := j.tables.Family(l.Family); ok {
				all = append(all, takenFor{is, taken})
			}
		}
	}
	smaller := func(p takenFor) int { return min(p.is.Species, p.taken.Species) }
	slices.SortStableFunc(all, func(a, b takenFor) int {
		return cmp.Or(cmp.Compare(smaller(b), smaller(a)), strings.Compare(a.is.Name, b.is.Name), strings.Compare(a.taken.Name, b.taken.Name))
	})
	return all
}

// excluding is the easiest look that excludes one family for the other.
func (j *Judge) excluding(is, taken *diagnosis.Family) (Stated, bool) {
	var best *diagnosis.Character
	var found Stated
	for i := range j.tables.Characters {
		c := &j.tables.Characters[i]
		if c.NeverExcludes || j.tables.PlateOf(c) == nil || best != nil && c.Effort >= best.Effort {
			continue
		}
		for s := range j.drawnStates(c) {
			there, knownThere := is.Share(c.ID, s)
			never, known := taken.Share(c.ID, s)
			if knownThere && known && there >= exampleTells && never == 0 {
				best, found = c, Stated{Character: c.ID, State: c.States[s].ID}
			}
		}
	}
	return found, best != nil
}

// usual is the state of a character that a family shows most often.
func (j *Judge) usual(f *diagnosis.Family, character string) Stated {
	c, _ := j.tables.Character(character)
	usual, most := Stated{Character: character}, 0.0
	for i, state := range c.States {
		if share, known := f.Share(character, i); known && share > most {
			usual.State, most = state.ID, share
		}
	}
	return usual
}

// drawnStates is how many states a character has, 0 unless each is drawn.
func (j *Judge) drawnStates(c *diagnosis.Character) int {
	if c.Kind != diagnosis.KindStates {
		return 0
	}
	for _, s := range c.States {
		if _, drawn := j.tables.Picture(c.ID, s.ID); !drawn {
			return 0
		}
	}
	return len(c.States)
}

// addShared states of an example the character that speaks most for the name that it was given, of those that both families show.
// Each is of another region of the body, so that one beetle is seen.
func (j *Judge) addShared(e *Example, is, taken *diagnosis.Family) bool {
	var best Stated
	most, subject := 0.0, j.tables.FamilyIndex(taken.Name)
	for i := range j.tables.Characters {
		c := &j.tables.Characters[i]
		if j.regionIn(e, c.Region) {
			continue
		}
		for s := range j.drawnStates(c) {
			one, knownOne := is.Share(c.ID, s)
			other, knownOther := taken.Share(c.ID, s)
			if !knownOne || !knownOther || min(one, other) < exampleShared {
				continue
			}
			tried := Stated{Character: c.ID, State: c.States[s].ID}
			if p := j.Posterior(Evidence{Stated: append(slices.Clone(e.Stated), tried)}).P[subject]; p > most {
				most, best = p, tried
			}
		}
	}
	if best.Character != "" {
		e.Stated = append(e.Stated, best)
	}
	return best.Character != ""
}

func (j *Judge) regionIn(e *Example, region string) bool {
	return slices.ContainsFunc(append(slices.Clone(e.Stated), e.Telling), func(s Stated) bool {
		c, ok := j.tables.Character(s.Character)
		return ok && c.Region == region
	})
}

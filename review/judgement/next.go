package judgement

import (
	"cmp"
	"math"
	"slices"
)

// Next is a character that nobody has stated, with what one look at it is expected to tell about the family.
type Next struct {
	Character string `json:"character"`
	// Bits are expected; one bit halves the doubt.
	Bits float64 `json:"bits"`
	// NeedsPhoto: no photo at hand shows any of the character's views.
	NeedsPhoto bool `json:"needs_photo,omitempty"`
}

// leastBits is what is worth a look at all.
const leastBits = 0.001

// bitSteps is what Bits are rounded to, and mostBits above every number of them.
const (
	bitSteps = 1e6
	mostBits = 1 << 40
)

// next lists what to check next, the most telling first, then by character.
func (j *Judge) next(s *scratch, e *Evidence) []Next {
	j.fillAccuracy(s, &e.Look)
	s.bits = resized(s.bits, len(s.accuracy))
	s.posterior.FillInformation(s.bits, e.Look.Reader.or(Reviewer).index(), s.accuracy)
	s.keys = s.keys[:0]
	for place, c := range j.index.charactersByName {
		if bits := s.bits[c]; bits >= leastBits {
			s.keys = append(s.keys, uint64(mostBits-math.Round(bits*bitSteps))<<placeBits|uint64(place))
		}
	}
	slices.Sort(s.keys)
	next := make([]Next, len(s.keys))
	for i, key := range s.keys {
		c := j.index.charactersByName[key&places]
		next[i] = Next{
			Character:  j.tables.Characters[c].ID,
			Bits:       math.Round(s.bits[c]*bitSteps) / bitSteps,
			NeedsPhoto: e.Views != nil && !j.shown(s, c),
		}
	}
	return next
}

// fillAccuracy asks once for each run of characters of one region.
func (j *Judge) fillAccuracy(s *scratch, look *Look) {
	s.accuracy = resized(s.accuracy, len(j.tables.Characters))
	region, accuracy := "", cmp.Or(look.ByRegion[""], look.Accuracy, j.taken.Look)
	for i := range j.tables.Characters {
		if r := j.tables.Characters[i].Region; r != region {
			region, accuracy = r, cmp.Or(look.ByRegion[r], look.Accuracy, j.taken.Look)
		}
		s.accuracy[i] = accuracy
	}
}

// fillViews notes which views the photos have.
func (j *Judge) fillViews(s *scratch, views []string) {
	s.views = resized(s.views, len(j.index.views))
	clear(s.views)
	for _, v := range views {
		if i, known := j.index.views[v]; known {
			s.views[i] = true
		}
	}
}

// shown says whether the photos have one of the views of a character; one without views needs none.
func (j *Judge) shown(s *scratch, character int) bool {
	views := j.index.characters[character].views
	for _, v := range views {
		if s.views[v] {
			return true
		}
	}
	return len(views) == 0
}

package judgement

import (
	"cmp"
	"math"
	"slices"

	"revidit/review/confidence"
)

// Next is a character that nobody has stated, with what one look at it is expected to tell about the family, and what
// that look takes.
type Next struct {
	Character string `json:"character"`
	// Bits are expected; one bit halves the doubt.
	Bits float64 `json:"bits"`
	// Effort is what one look takes, in glances at what a pinned specimen shows at once, as the tables assume; turning it,
	// or taking a photo, not counted. 0 in assessments of a time before efforts.
	Effort float64 `json:"effort,omitempty" doc:"What one look takes, in glances at what a pinned specimen shows at once; assumed"`
	// NeedsPhoto: no photo at hand shows any of the character's views.
	NeedsPhoto bool `json:"needs_photo,omitempty"`
	// Group is the wider group of tables that the character is of; empty for the assessment's own. Its Bits are about whether
	// the specimen belongs to these tables at all. Expect says what one that does shows, in assessments of a time that stored words. The
	// API fills it in.
	Group  string `json:"group,omitempty" doc:"Of a question of a wider group of tables, which comes first: whether the specimen belongs to these tables at all"`
	Expect string `json:"expect,omitempty" doc:"Of a question of a wider group: what a specimen that belongs to these tables shows there, in the language of Accept-Language or else of the caller"`
}

// leastBits is what is worth a look at all.
const leastBits = 0.001

// bitSteps is what Bits are rounded to, worthSteps what bits for each glance are, and mostWorth above every number of these.
const (
	bitSteps   = 1e6
	worthSteps = 1e9
	mostWorth  = 1 << 46
)

// next lists what to check next: whether these tables are the right ones where that is in doubt, then the characters in
// the order of itinerary.
func (j *Judge) next(s *scratch, e *Evidence) []Next {
	j.fillAccuracy(s, &e.Look)
	s.bits = resized(s.bits, len(s.accuracy))
	s.posterior.FillInformation(s.bits, confidence.Onlooker{Reader: e.Look.Reader.or(Reviewer).index(), Accuracy: s.accuracy, Leaning: e.Look.Leaning})
	s.keys = s.keys[:0]
	for place, c := range j.index.charactersByName {
		s.bits[c] = math.Round(s.bits[c]*bitSteps) / bitSteps // so that the order hangs on no digit in which processors differ
		if s.bits[c] >= leastBits {
			worth := min(math.Round(j.worth(s, c)*worthSteps), mostWorth)
			s.keys = append(s.keys, uint64(mostWorth-worth)<<placeBits|uint64(place))
		}
	}
	slices.Sort(s.keys)
	photos := e.Views != nil
	first := j.widerFirst(s, e)
	next := append(make([]Next, 0, len(first)+len(s.keys)), first...)
	for _, c := range j.itinerary(s, photos) {
		next = append(next, Next{
			Character:  j.tables.Characters[c].ID,
			Bits:       s.bits[c],
			Effort:     j.tables.Characters[c].Effort,
			NeedsPhoto: photos && !j.shown(s, c),
		})
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

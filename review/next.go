package review

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"revidit/review/confidence"
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

// next lists what to check next, the most telling first.
func (j *Judge) next(p *confidence.Posterior, e Evidence) []Next {
	accuracy := make([]float64, len(j.tables.Characters))
	for i, c := range j.tables.Characters {
		accuracy[i] = cmp.Or(e.Look.ByRegion[c.Region], e.Look.Accuracy, reviewerAccuracy)
	}
	next := []Next{}
	for i, bits := range p.Information(accuracy) {
		c := &j.tables.Characters[i]
		if bits >= leastBits {
			next = append(next, Next{Character: c.ID, Bits: math.Round(bits*1e6) / 1e6, NeedsPhoto: e.Views != nil && !shown(c.Views, e.Views)})
		}
	}
	slices.SortStableFunc(next, func(a, b Next) int {
		return cmp.Or(cmp.Compare(b.Bits, a.Bits), strings.Compare(a.Character, b.Character))
	})
	return next
}

// shown says whether the photos have one of the views; a character without views needs none.
func shown(wanted, have []string) bool {
	return len(wanted) == 0 || slices.ContainsFunc(wanted, func(v string) bool { return slices.Contains(have, v) })
}

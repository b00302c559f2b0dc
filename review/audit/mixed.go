package audit

import (
	"cmp"
	"slices"

	"revidit/review"
)

// Mixed is a pair of states that somebody and others see differently: what they stated, and what others saw in its place.
type Mixed struct {
	Character, Stated, Seen string
	Specimens               int    // on how many
	Latest                  string // one of these, the latest closed
}

// MixedUp are the pairs of states of one person in what was said of closed specimens (testimonies, the latest closed first), the most
// frequent first. How many of the person's statements there are, and of how many of these somebody saw another state, is told
// beside. It says nothing of who is right.
func MixedUp(person string, closed []review.Closed) (pairs []Mixed, stated, differently int) {
	for i := range closed {
		c := &closed[i]
		whole := c.Whole()
		for _, o := range c.Specimen.Observations {
			if o.By != person || o.Withdrawn != "" {
				continue
			}
			stated++
			seen := othersSaw(&whole, o)
			if len(seen) > 0 {
				differently++
			}
			for _, state := range seen {
				pairs = tallied(pairs, Mixed{Character: o.Character, Stated: o.State, Seen: state, Latest: c.Specimen.ID})
			}
		}
	}
	slices.SortStableFunc(pairs, func(a, b Mixed) int { return cmp.Compare(b.Specimens, a.Specimens) })
	return pairs, stated, differently
}

// othersSaw are the other states that people saw in place of an observation, each once.
func othersSaw(s *review.Submission, o review.Observation) []string {
	var seen []string
	add := func(by, state string) {
		if by != o.By && state != "" && state != o.State && !slices.Contains(seen, state) {
			seen = append(seen, state)
		}
	}
	for _, v := range s.Verdicts {
		if v.Observation == o.ID && v.Kind == review.VerdictDispute {
			add(v.By, v.Better)
		}
	}
	for _, b := range s.Blind {
		if b.Observation == o.ID {
			add(b.By, b.State)
		}
	}
	return seen
}

func tallied(pairs []Mixed, m Mixed) []Mixed {
	at := slices.IndexFunc(pairs, func(p Mixed) bool { return p.Character == m.Character && p.Stated == m.Stated && p.Seen == m.Seen })
	if at < 0 {
		m.Specimens = 1
		return append(pairs, m)
	}
	pairs[at].Specimens++
	return pairs
}

package builder

import (
	"revidit/review/diagnosis"
	"revidit/review/key"
)

// oneStep is the weight of a count that is wrong by one, against 1 for two. Assumed, no source.
const oneStep = 8

// readings are, by state that is there, the probabilities of what a reader of the key says: right as often as the tables say for a
// member or reviewer, or ordinary where they do not; mistaken as the tables weigh mistakes.
func readings(c *diagnosis.Character, reader Reader) [][]float64 {
	all := make([][]float64, len(c.States))
	for s := range all {
		right := reader.Ordinary
		if c.Read != nil {
			rate := c.Read[s].Member
			if reader.Expert {
				rate = c.Read[s].Reviewer
			}
			if rate > 0 {
				right = rate
			}
		}
		if reader.Faultless {
			right = 1
		}
		all[s] = reading(c, s, right)
	}
	return all
}

func reading(c *diagnosis.Character, state int, right float64) []float64 {
	out, total := make([]float64, len(c.States)), 0.0
	for t := range out {
		if t == state {
			continue
		}
		out[t] = c.MistakenFor(state, t)
		if c.Kind == diagnosis.KindCount {
			out[t] = map[int]float64{1: oneStep, 2: 1}[max(t-state, state-t)]
		}
		total += out[t]
	}
	for t := range out {
		if total > 0 {
			out[t] *= (1 - right) / total
		}
	}
	out[state] = right
	if total == 0 {
		out[state] = 1
	}
	return out
}

// How often a character cannot be seen on specimens as they stand in drawers, because of glue, legs that lie over it, or a card:
// by region of the body, and more where a look takes effort. Assumed, common practice, no source.
var hiddenBy = map[string]float64{"antenna": 0.06, "head": 0.03, "pronotum": 0.01, "underside": 0.2, "abdomen": 0.04, "elytra": 0.01,
	"legs": 0.06, "body": 0}

const (
	hiddenElsewhere = 0.05
	hiddenByGlance  = 0.02 // for each glance beyond the first
	mostHidden      = 0.6
)

func hiddenShare(c *diagnosis.Character) float64 {
	share, ok := hiddenBy[c.Region]
	if !ok {
		share = hiddenElsewhere
	}
	return min(share+hiddenByGlance*(c.Effort-1), mostHidden)
}

// usualOf is the usual state of a form as a place in its column.
func usualOf(t *diagnosis.Tables, f *form, c *diagnosis.Character) (uint8, bool) {
	seen, ok := key.Usual(t, f.Form, c.ID)
	if !ok {
		return 0, false
	}
	if c.Kind == diagnosis.KindLength {
		return piece(seen.MM), true
	}
	return uint8(c.State(seen.State)), true
}

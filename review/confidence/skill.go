package confidence

import (
	"math"
	"slices"
)

// A person's skill on a region is one number δ, the logit of the accuracy θ less that of the role: logit e_s = logit θ +
// ln Ease_s, so that with Ease the role's odds at a state over those at an ordinary one, logit e_s is the role's plus δ. It
// is kept as θ, the accuracy at an ordinary state: that is what was kept when every state was an ordinary one.

// easesOf are the eases that characters have, each once, 1 first.
func easesOf(characters []Character) []float64 {
	eases := []float64{1}
	for _, c := range characters {
		for _, ease := range c.Ease {
			eases = append(eases, ease...)
		}
	}
	slices.Sort(eases[1:])
	eases = slices.Compact(eases)
	if i := slices.Index(eases[1:], 1); i >= 0 {
		eases = slices.Delete(eases, i+1, i+2)
	}
	return eases
}

// classesOf are the places of the eases of a character, by role and state.
func classesOf(c Character, eases []float64) [][]uint8 {
	classes := make([][]uint8, len(c.Ease))
	for role, reading := range readingsOf(c) {
		for _, e := range reading.ease {
			classes[role] = append(classes[role], uint8(slices.Index(eases, e)))
		}
	}
	return classes
}

// mostEases is how many different eases the characters of a panel can have.
const mostEases = 256

// leastAccuracy is the least accuracy on a character, whose misreading is w, at which no report speaks against what it says:
// e_a ≥ (1 − e_s) · w(s → a) for all states a and s. Below it the states would change their names with one another, which
// reports alone cannot tell from their being read right. With the odds x of the accuracy the condition is
// k_a·k_s·x² + k_a·(1 − w)·x − w ≥ 0.
func leastAccuracy(c Character, w, ease []float64) float64 {
	easeOf := func(s int) float64 {
		if ease == nil {
			return 1
		}
		return ease[s]
	}
	least := 0.0
	for s := range c.States {
		for a := range c.States {
			w, ka, ks := w[s*c.States+a], easeOf(a), easeOf(s)
			if a == s || w == 0 {
				continue
			}
			b := ka * (1 - w)
			least = max(least, (math.Sqrt(b*b+4*ka*ks*w)-b)/(2*ka*ks))
		}
	}
	return least / (1 + least)
}

// addLeast fills in the least accuracies by role and region, no greater than what the role begins with.
func (r *Reliability) addLeast() {
	p := &r.panel
	r.least = make([]float64, len(p.Roles)*p.Regions)
	for i, c := range p.Characters {
		if c.Kind == Length {
			continue
		}
		w := misreading(c)
		ordinary := leastAccuracy(c, w, nil)
		for role := range p.Roles {
			least := &r.least[role*p.Regions+p.Region[i]]
			if len(c.Ease) > 0 {
				*least = max(*least, leastAccuracy(c, w, c.Ease[role]))
				continue
			}
			*least = max(*least, ordinary)
		}
	}
	for role := range p.Roles {
		begins := p.Roles[role].accuracy().mode(counts{})
		for region := range p.Regions {
			r.least[role*p.Regions+region] = min(r.least[role*p.Regions+region], begins)
		}
	}
}

func (r *Reliability) leastOf(slot int32) float64 {
	person, region := int(slot)/r.panel.Regions, int(slot)%r.panel.Regions
	return r.least[r.panel.Persons[person]*r.panel.Regions+region]
}

// setAccuracy keeps what follows from an accuracy with it.
func (r *Reliability) setAccuracy(slot int32, accuracy float64) {
	r.accuracy[slot] = accuracy
	n := len(r.ease)
	sights(r.sights[int(slot)*n:][:n], accuracy, r.ease)
}

const (
	skillSteps     = 100
	skillTolerance = 1e-13 // in logits
	boldStep       = 4     // the largest step in logits while one side is open
)

// accuracyFor is the accuracy at which Σ_c of_c · ln e_c + against_c · ln(1 − e_c) and what is known before are largest. In
// the logit this is concave, and Newton's method with a bracket finds it. Where all states are ordinary it is a share.
func accuracyFor(known belief, told []counts, ease []float64, start float64) float64 {
	if !slices.ContainsFunc(told[1:], func(c counts) bool { return c != counts{} }) {
		return known.mode(told[0])
	}
	low, high := math.Inf(-1), math.Inf(1)
	x := math.Log(start / (1 - start))
	for range skillSteps {
		slope, curvature := known.slope(x)
		odds := math.Exp(x)
		for i, c := range told {
			all := c.of + c.against
			if all == 0 {
				continue
			}
			e := odds * ease[i] / (1 + odds*ease[i])
			slope += c.of - all*e
			curvature += all * e * (1 - e)
		}
		step := min(max(slope/curvature, -boldStep), boldStep)
		if math.Abs(step) < skillTolerance {
			break
		}
		if step > 0 {
			low = x
		} else {
			high = x
		}
		next := x + step
		if next <= low || next >= high {
			next = (low + high) / 2
		}
		x = next
	}
	return 1 / (1 + math.Exp(-x))
}

// slope is that of the logarithm of the density in the logit x, and minus its curvature.
func (b belief) slope(x float64) (slope, curvature float64) {
	p := 1 / (1 + math.Exp(-x))
	all := b.of + b.against
	return b.of - all*p, all * p * (1 - p)
}

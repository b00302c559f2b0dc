package confidence

import (
	"cmp"
	"math"
	"slices"
)

// A person's skill on a region is one number δ, the logit of the accuracy θ less that of the role: logit e_s = logit θ +
// ln Ease_s, so that with Ease the role's odds at a state over those at an ordinary one, logit e_s is the role's plus δ. It
// is kept as θ, the accuracy at an ordinary state: that is what was kept when every state was an ordinary one.

// classesIn are the classes of the states of characters, each once, that of ordinary ones first.
func classesIn(characters []Character, roles int) []class {
	classes := []class{{ease: 1}}
	for _, c := range characters {
		for role := range roles {
			classes = append(classes, statesOf(c, role)...)
		}
	}
	slices.SortFunc(classes[1:], func(a, b class) int { return cmp.Or(cmp.Compare(a.ease, b.ease), cmp.Compare(a.lean, b.lean)) })
	classes = slices.Compact(classes)
	if i := slices.Index(classes[1:], classes[0]); i >= 0 {
		classes = slices.Delete(classes, i+1, i+2)
	}
	return classes
}

// statesOf are the classes of the states of a character to a role; nil where all are ordinary.
func statesOf(c Character, role int) []class {
	lean, ordinary := leanOf(c), true
	out := make([]class, c.States)
	for s := range out {
		out[s] = class{ease: 1}
		if len(c.Ease) > 0 {
			out[s].ease = c.Ease[role][s]
		}
		if lean != nil {
			out[s].lean = lean[s]
		}
		ordinary = ordinary && out[s] == class{ease: 1}
	}
	if ordinary {
		return nil
	}
	return out
}

// classesOf are the places of the states of a character among classes, by role; none where all are ordinary.
func classesOf(c Character, classes []class, roles int) [][]uint8 {
	places := make([][]uint8, roles)
	for role := range roles {
		for _, s := range statesOf(c, role) {
			places[role] = append(places[role], uint8(slices.Index(classes, s)))
		}
	}
	return places
}

// mostClasses is how many classes the states of a panel can have.
const mostClasses = 256

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
		w := r.misreadings[i]
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
	least := r.least[r.panel.Persons[person]*r.panel.Regions+region]
	if leaning := r.leaning[person]; leaning != 0 {
		least = max(least, r.leastLeaning(r.panel.Persons[person], region, leaning))
	}
	return least
}

// leastLeaning is the same to somebody with a leaning.
func (r *Reliability) leastLeaning(role, region int, leaning float64) float64 {
	least := 0.0
	for i, c := range r.panel.Characters {
		states := statesOf(c, role)
		if r.panel.Region[i] != region || c.Kind == Length || states == nil {
			continue
		}
		ease := make([]float64, c.States)
		for s := range ease {
			ease[s] = states[s].under(leaning)
		}
		least = max(least, leastAccuracy(c, r.misreadings[i], ease))
	}
	return min(least, r.panel.Roles[role].accuracy().mode(counts{}))
}

// setAccuracy keeps what follows from an accuracy with it.
func (r *Reliability) setAccuracy(slot int32, accuracy float64) {
	r.accuracy[slot] = accuracy
	n, leaning := len(r.classes), 0.0
	if person := int(slot) / r.panel.Regions; person < len(r.leaning) {
		leaning = r.leaning[person]
	}
	r.room = r.easesUnder(r.room, leaning)
	sights(r.sights[int(slot)*n:][:n], accuracy, r.room)
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

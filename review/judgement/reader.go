package judgement

import (
	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

// Reader is as what somebody looks: the tables say for each how often a state is read right. Nobody told of is a Member where
// something is stated, and a Reviewer as the one who would look next.
type Reader int

const (
	Untold Reader = iota
	Member
	Reviewer // and curators
)

// or is the reader, or another where nothing is told.
func (r Reader) or(other Reader) Reader {
	if r == Untold {
		return other
	}
	return r
}

// index of confidence.Spec.Readers.
func (r Reader) index() int { return int(r - Member) }

// easeOf are, by state, the odds of its being read right by a reader, over those of an ordinary state.
func (j *Judge) easeOf(c *diagnosis.Character, r Reader) []float64 {
	usual := j.taken.Stated
	if r == Reviewer {
		usual = j.taken.Look
	}
	ease := make([]float64, len(c.States))
	for s, rates := range c.Read {
		p := rates.Member
		if r == Reviewer {
			p = rates.Reviewer
		}
		ease[s] = 1
		if p > 0 {
			ease[s] = p / (1 - p) * (1 - usual) / usual
		}
	}
	return ease
}

// strikingOf says which states are striking; nil where none is.
func strikingOf(c *diagnosis.Character) []bool {
	if len(c.Striking) == 0 {
		return nil
	}
	striking := make([]bool, len(c.States))
	for _, id := range c.Striking {
		striking[c.State(id)] = true
	}
	return striking
}

// confusedOf are the errors with a weight of their own, in each direction.
func confusedOf(c *diagnosis.Character) []confidence.Confused {
	var out []confidence.Confused
	for from := range c.States {
		for to := range c.States {
			if weight := c.MistakenFor(from, to); from != to && weight != 1 {
				out = append(out, confidence.Confused{From: from, To: to, Weight: weight})
			}
		}
	}
	return out
}

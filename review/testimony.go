package review

import (
	"slices"
	"time"
)

// At is when the last of its submissions was closed.
func (c *Closed) At() time.Time {
	var at time.Time
	for _, s := range c.Submissions {
		if s.ClosedAt != nil && s.ClosedAt.After(at) {
			at = *s.ClosedAt
		}
	}
	return at
}

// Groups are those of its submissions, each once.
func (c *Closed) Groups() []string {
	var groups []string
	for _, s := range c.Submissions {
		if !slices.Contains(groups, s.Group) {
			groups = append(groups, s.Group)
		}
	}
	return groups
}

// Testimony is what figures and learning look at, and nothing else: the observations that count, with each reviewer's last
// verdict on them and the blind looks at them, as if there had been one submission. Characters and states stay the ids that
// people gave: what these mean is asked of the tables in force when the testimony is read, never when it was written. Verdicts
// on observations of one's own are left out, and those that were given after others' had been shown. Where somebody told freely,
// it also holds what of that list was taken back since (marked TakenBack), and who had the specimen in hand.
func (c *Closed) Testimony() Closed {
	whole := c.Whole()
	out := Submission{Specimen: c.Specimen.ID, Verdicts: []Verdict{}}
	spec, free := Specimen{ID: c.Specimen.ID, Label: Label{Sex: c.Specimen.Label.Sex}}, false
	for _, o := range c.Specimen.Observations {
		told := o.List == ListFree && o.Role.States()
		if o.Withdrawn != "" && !told || !slices.Contains(whole.Cites, o.ID) {
			continue
		}
		kept := Observation{ID: o.ID, Character: o.Character, State: o.State, Sureness: o.Sureness, By: o.By, Role: o.Role, At: o.At, AfterHint: o.AfterHint}
		if told {
			kept.List, free = ListFree, true
		}
		if o.Withdrawn != "" {
			kept.Withdrawn = TakenBack
		} else {
			out.Cites = append(out.Cites, o.ID)
		}
		spec.Observations = append(spec.Observations, kept)
	}
	if free {
		out.Opinions = whole.inHand()
	}
	for _, b := range whole.Blind {
		if b.State != "" && slices.Contains(out.Cites, b.Observation) {
			out.Blind = append(out.Blind, BlindCheck{Observation: b.Observation, State: b.State, By: b.By, Role: b.Role, At: b.At})
		}
	}
	for _, v := range whole.Verdicts {
		if v.AfterOpening {
			continue // it tells of what was shown as much as of who gave it
		}
		o, _ := spec.Observation(v.Observation)
		if (v.Kind == VerdictConfirm || v.Kind == VerdictDispute) && slices.Contains(out.Cites, v.Observation) && !v.SelfGiven(o) {
			out.Verdicts = append(out.Verdicts, Verdict{Observation: v.Observation, Kind: v.Kind, Better: v.Better, By: v.By, Role: v.Role, At: v.At})
		}
	}
	return Closed{Specimen: spec, Submissions: []Submission{out}}
}

// TakenBack stands for the reason why an observation of a testimony was withdrawn: it counts for nothing, and was mentioned all
// the same.
const TakenBack = "taken back"

// inHand are the people who had the specimen before them, as opinions that say nothing else, each once.
func (s *Submission) inHand() []Opinion {
	var out []Opinion
	for _, o := range s.Opinions {
		if o.Basis.InHand() && !slices.ContainsFunc(out, func(k Opinion) bool { return k.By == o.By }) {
			out = append(out, Opinion{By: o.By, Basis: BasisSpecimen})
		}
	}
	return out
}

package review

import "slices"

// Closed is a specimen with all its submissions, of which none is before reviewers or its owner any more.
type Closed struct {
	Specimen    Specimen
	Submissions []Submission
}

// ClosedOf returns a specimen for learning, and false where some submission of it is not closed yet or where none of
// them ever came before reviewers: what was said may change until then. Drafts do not count.
func ClosedOf(spec *Specimen, submissions []Submission) (Closed, bool) {
	c := Closed{Specimen: *spec}
	for _, s := range submissions {
		if s.OpenedAt == nil {
			continue
		}
		if !s.Closed() {
			return Closed{}, false
		}
		c.Submissions = append(c.Submissions, s)
	}
	return c, len(c.Submissions) > 0
}

// Whole puts the submissions of a specimen together: what they cite, and what was said of it.
func (c *Closed) Whole() Submission {
	whole := Submission{Verdicts: []Verdict{}}
	for _, s := range c.Submissions {
		for _, id := range s.Cites {
			if !slices.Contains(whole.Cites, id) {
				whole.Cites = append(whole.Cites, id)
			}
		}
		whole.Verdicts = mergeVerdicts(whole.Verdicts, s.Verdicts)
		whole.Blind = append(whole.Blind, s.Blind...)
		whole.Opinions = append(whole.Opinions, s.Opinions...)
		whole.Determination = s.Determination
	}
	return whole
}

package review

import "revidit/review/judgement"

// Scales are what determinations are weighed by: tables, a policy, and what is known of people.
type Scales struct {
	Judge  *judgement.Judge
	Policy Policy
	People *Reliability
}

// Assess judges a submission of a record, as nobody in particular who looks next.
func (s Scales) Assess(r *Record, sub *Submission) judgement.Assessment {
	w := Weighing{People: s.People, List: s.Policy.Prior(s.Judge.Tables()), Policy: s.Policy.Version}
	return w.Assess(s.Judge, sub, &r.Specimen, r.Submissions)
}

func (s *Scales) weigher() *judgement.Weigher {
	return s.Judge.Weigher(s.Policy.Prior(s.Judge.Tables()))
}

package review

import "slices"

// SealedFrom: nobody sees others' verdicts before saving theirs. Owners see them at once (it is how they learn),
// reviewers after their own, a curator who has opened it in an audit, everybody when it is closed.
func SealedFrom(actor Actor, s *Submission) bool {
	return !s.Closed() && actor.Person != s.Owner && !s.HasReviewed(actor.Person) && !s.AuditedBy(actor.Person)
}

// UnseenOf is a submission without what others have said about it.
func UnseenOf(s Submission) Submission {
	s.Verdicts, s.Opinions, s.Replies, s.Assessment, s.Blind = []Verdict{}, []Opinion{}, []Reply{}, nil, nil
	s.Gain, s.Gains, s.Audits = 0, nil, withoutReasons(s.Audits)
	return s
}

// SeenBy is a submission as an actor may see it. The dice are told to nobody, and of what is sealed their own blind looks
// stay.
func SeenBy(actor Actor, s Submission) Submission {
	s.Draw = nil
	if Unscored(actor, &s) {
		return withoutScores(s)
	}
	if !SealedFrom(actor, &s) {
		return s
	}
	own := slices.DeleteFunc(slices.Clone(s.Blind), func(b BlindCheck) bool { return b.By != actor.Person })
	s = UnseenOf(s)
	s.Blind = own
	return s
}

// OpenTo are the submissions that are not sealed from an actor. Of a draft nobody has said anything.
func OpenTo(actor Actor, submissions []Submission) []Submission {
	var open []Submission
	for i := range submissions {
		if submissions[i].OpenedAt == nil || !SealedFrom(actor, &submissions[i]) {
			open = append(open, submissions[i])
		}
	}
	return open
}

// TellsOpinion says whether an event gives away what a reviewer thinks.
func TellsOpinion(c Change) bool {
	switch c.(type) {
	case *VerdictsGiven, *OpinionGiven, *BlindChecked, *Replied, *Assessed, *SlipReleased:
		return true
	}
	return false
}

// DeterminerIn is the person whom an event names as determiner, or "".
func DeterminerIn(c Change) string {
	switch c := c.(type) {
	case *Drafted:
		return c.Determination.Determiner
	case *Revised:
		return c.Determination.Determiner
	}
	return ""
}

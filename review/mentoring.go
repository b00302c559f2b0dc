package review

import "slices"

// takesPart is the running series that a submission becomes part of which the actor puts before reviewers, or empty: one of the
// beginner's own names, of a specimen that nobody has submitted before.
func (now *Dossier) takesPart() string {
	s := now.Submission
	if s.Owner != now.Actor.Person || s.Determination.Determiner != now.Actor.Person || s.Follows != "" || now.InSeries >= SeriesLength {
		return ""
	}
	if slices.ContainsFunc(now.Siblings, func(o Submission) bool { return o.ID != s.ID && o.OpenedAt != nil }) {
		return ""
	}
	for _, series := range now.Series {
		if series.Member == now.Actor.Person && series.Status == SeriesRunning {
			return series.ID
		}
	}
	return ""
}

// mentor is who answers the submission, which is part of a series.
func (now *Dossier) mentor() string {
	for _, series := range now.Series {
		if series.ID == now.Submission.Series {
			return series.Mentor
		}
	}
	return ""
}

// notTheirs says whether the submission is open as part of a series, and the actor neither mentors it nor owns it nor is a curator,
// who sees to it where the mentor is away.
func (now *Dossier) notTheirs() bool {
	return now.Submission.Series != "" && now.Submission.Status == StatusOpen && now.Actor.Person != now.mentor() &&
		now.Actor.Role != RoleCurator && now.Actor.Person != now.Submission.Owner
}

// ForMentor refuses a decision of a reviewer about a beginner's submission that is with a mentor.
func (now *Dossier) ForMentor(made Decision) error {
	if !now.notTheirs() || !slices.ContainsFunc(made.Submission, mentors) {
		return nil
	}
	return Errorf(KindForbidden, "This is part of a beginner's series, and goes to one mentor alone. Nothing was stored; what is in the queue waits for you.")
}

// mentors says whether a change is what in a series the mentor alone does.
func mentors(c Change) bool {
	switch c.(type) {
	case *VerdictsGiven, *OpinionGiven, *Replied, *Returned, *Held, *Confirmed, *Undetermined, *Redetermined:
		return true
	}
	return false
}

// mentorActs are the actions that lead to these changes.
var mentorActs = []Action{ActHold, ActReview, ActReply, ActReturn, ActSettle, ActRedetermine, ActUndetermine}

// MissingFor is what a submission, as somebody sees it, needs before it settles: by the policy, or in a series by its mentor.
func (now *Dossier) MissingFor(s *Submission) []Coded {
	if s.Series == "" {
		return now.Policy.Missing(s, now.Siblings)
	}
	return now.Policy.MissingInSeries(s, now.Siblings, now.mentor())
}

// MissingInSeries is the policy's rule for a series: the mentor's agreement is enough, with no number of voices and no least
// confidence. What does not fit still needs a written reason: it is what a beginner learns from.
func (p Policy) MissingInSeries(s *Submission, siblings []Submission, mentor string) []Coded {
	if s.Assessment == nil {
		return []Coded{Code("missing-not-assessed")}
	}
	missing := p.contradicted(s)
	agrees := func(o Opinion) bool { return o.By == mentor && o.Kind == OpinionAgrees }
	if !slices.ContainsFunc(s.counted(siblings), agrees) {
		missing = append(missing, Code("missing-mentor"))
	}
	return missing
}

// Renamed is the other name that a mentor gives, whose answer closes a submission of a series: a determination of the mentor's own
// follows. The note says why.
func (now *Dossier) Renamed(made Decision) (RedetermineForm, bool) {
	if now.Submission.Series == "" || now.Submission.Status != StatusOpen || now.Actor.Person != now.mentor() {
		return RedetermineForm{}, false
	}
	for _, c := range made.Submission {
		if given, ok := c.(*OpinionGiven); ok && given.Opinion.Kind == OpinionAnother {
			return RedetermineForm{Family: given.Opinion.Family, Reason: given.Opinion.Note}, true
		}
	}
	return RedetermineForm{}, false
}

// checkMentorNote: another name in a series is an answer that a beginner learns from.
func (now *Dossier) checkMentorNote(p *Problems, o *Opinion) {
	if o != nil && o.Kind == OpinionAnother && o.Note == "" && now.Submission.Series != "" && now.Actor.Person == now.mentor() {
		p.Addf("opinion.note", "say why it is another: the beginner learns from it")
	}
}

// Unscored says whether an actor is shown no scores of a submission: the beginner whose series it is part of.
func Unscored(actor Actor, s *Submission) bool { return s.Series != "" && actor.Person == s.Owner }

// withoutScores is a submission without numbers of how sure its name is.
func withoutScores(s Submission) Submission {
	if s.Assessment != nil {
		a := s.Assessment.Unscored()
		s.Assessment = &a
	}
	if s.Settlement != nil {
		settled := *s.Settlement
		settled.Confidence = 0
		s.Settlement = &settled
	}
	s.Gain, s.Gains, s.Opening = 0, nil, Claim{}
	if s.Recheck != nil {
		r := *s.Recheck
		r.Closing, r.Opening = Claim{}, Claim{}
		s.Recheck = &r
	}
	return s
}

// WithoutScores is a change as it is told to a beginner: with no number of how sure the name is.
func WithoutScores(c Change) Change {
	switch c := c.(type) {
	case *Assessed:
		return &Assessed{Assessment: c.Assessment.Unscored()}
	case *Confirmed:
		settled := c.Settlement
		settled.Confidence = 0
		return &Confirmed{Settlement: settled}
	}
	return c
}

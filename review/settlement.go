package review

import "strings"

// DecideSettle confirms a determination on the authority of somebody whom the policy names for its family.
func DecideSettle(m Moment, s *Submission, p Policy, reason string) (Decision, error) {
	if _, err := Transition(m.Actor, ActSettle, s); err != nil {
		return Decision{}, err
	}
	if !p.Expert(s.Determination.Family, m.Actor.Person) {
		return Decision{}, Errorf(KindForbidden, "Only a reviewer whom the policy names for %s may settle it on authority. Nothing was changed; give your verdicts and opinion instead.", s.Determination.Family)
	}
	if m.Actor.Person == s.Determination.Determiner {
		return Decision{}, Errorf(KindForbidden, "This determination is your own: nobody settles a determination of their own.")
	}
	if err := NotHeldByOther(m, s); err != nil {
		return Decision{}, err
	}
	var problems Problems
	CheckText(&problems, "reason", reason, 1, MaxNote)
	if err := problems.Err(); err != nil {
		return Decision{}, err
	}
	settlement := s.settlement(m, p)
	settlement.OnAuthority, settlement.Reason = true, strings.TrimSpace(reason)
	return Decision{Submission: []Change{&Confirmed{Settlement: settlement}}}, nil
}

// settlement is without the confidence, which Dossier.Write has assessed by then.
func (s *Submission) settlement(m Moment, p Policy) Settlement {
	return Settlement{Agreeing: NonNil(s.Agreeing()), Policy: p.Version, By: m.Actor.Person, At: m.Now}
}

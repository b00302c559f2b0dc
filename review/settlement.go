package review

import "strings"

// DecideSettle confirms a determination on the authority of somebody whom the policy names for its family, and who has not
// given that name to the specimen.
func DecideSettle(now *Dossier, reason string) (Decision, error) {
	m, s := now.Moment, now.Submission
	if _, err := Transition(m.Actor, ActSettle, s); err != nil {
		return Decision{}, err
	}
	if !now.Policy.Expert(s.Determination.Family, m.Actor.Person) {
		return Decision{}, Errorf(KindForbidden, "Only a reviewer whom the policy names for %s may settle it on authority. Nothing was changed; give your verdicts and opinion instead.", s.Determination.Family)
	}
	if err := now.notOwnName("settles"); err != nil {
		return Decision{}, err
	}
	if err := NotHeldByOther(m, s); err != nil {
		return Decision{}, err
	}
	var problems Problems
	CheckText(&problems, "reason", reason, 1, MaxNote)
	if err := problems.Err(); err != nil {
		return Decision{}, err
	}
	settlement := now.settlement()
	settlement.OnAuthority, settlement.Reason = true, strings.TrimSpace(reason)
	return Decision{Submission: []Change{&Confirmed{Settlement: settlement}}}, nil
}

// settlement is without the confidence, which Dossier.Write has assessed by then.
func (now *Dossier) settlement() Settlement {
	return Settlement{Agreeing: NonNil(now.Submission.Agreeing(now.Siblings)), Policy: now.Policy.Version, By: now.Actor.Person, At: now.Now}
}

package review

import "slices"

// Own is what somebody may not judge of a submission, because it is their own: nobody counts twice.
type Own struct {
	// Name: they have given this name to the specimen or put it before reviewers, here or in another submission. Opinions
	// judge the family, so that one name is another one where its family is.
	Name bool `json:"name"`
	// Observations are those that they made, of the standing ones that the submission cites.
	Observations []string `json:"observations" nullable:"false"`
	// Everything: nothing is left that they could judge.
	Everything bool `json:"everything"`
}

// Own is what is the actor's own.
func (now *Dossier) Own() Own {
	return OwnOf(now.Actor, now.Submission, now.Specimen, now.Siblings)
}

// OwnOf is what is an actor's own of a submission, which itself may be among its siblings.
func OwnOf(actor Actor, s *Submission, spec *Specimen, siblings []Submission) Own {
	own := Own{Name: ownName(actor, s, siblings), Observations: []string{}}
	others := 0
	for _, o := range spec.Observations {
		switch {
		case o.Withdrawn != "" || !slices.Contains(s.Cites, o.ID):
		case actor.Behind(o.By):
			own.Observations = append(own.Observations, o.ID)
		default:
			others++
		}
	}
	own.Everything = s.namedBy(actor) || own.Name && others == 0
	return own
}

// namedBy says whether an actor gave the name of a submission, or put it before reviewers.
func (s *Submission) namedBy(actor Actor) bool {
	return actor.Behind(s.Owner) || actor.Behind(s.Determination.Determiner)
}

// ownName says whether the name of a submission is an actor's own. Drafts are nobody's name yet.
func ownName(actor Actor, s *Submission, siblings []Submission) bool {
	return s.namedBy(actor) || slices.ContainsFunc(siblings, func(o Submission) bool {
		return o.ID != s.ID && o.OpenedAt != nil && o.Determination.Family == s.Determination.Family && o.namedBy(actor)
	})
}

// counted are the opinions but for those on a name of one's own, of a time when these were taken.
func (s *Submission) counted(siblings []Submission) []Opinion {
	var counted []Opinion
	for _, o := range s.Opinions {
		if !ownName(Actor{Person: o.By}, s, siblings) {
			counted = append(counted, o)
		}
	}
	return counted
}

// SelfGiven says whether a verdict is one on an observation of one's own, of a time when these were taken: it counts for
// nothing.
func (v Verdict) SelfGiven(o Observation) bool { return v.Observation == o.ID && v.By == o.By }

// notOwnName refuses whoever would decide about a name of their own.
func (now *Dossier) notOwnName(doing string) error {
	switch {
	case now.Actor.Behind(now.Submission.Determination.Determiner):
		return Errorf(KindForbidden, "This determination is your own: nobody %s a determination of their own.", doing)
	case ownName(now.Actor, now.Submission, now.Siblings):
		return Errorf(KindForbidden, "%s is a name that you have given to this specimen yourself: nobody %s a name of their own, in whichever submission. Nothing was stored.",
			now.Submission.Determination.Family, doing)
	}
	return nil
}

// Allowed are the actions that the actor may do, without those for which nothing is left that is not their own.
func (now *Dossier) Allowed() []Action {
	own := now.Own()
	return slices.DeleteFunc(Allowed(now.Actor, now.Submission), func(a Action) bool {
		if now.notTheirs() && slices.Contains(mentorActs, a) {
			return true
		}
		switch a {
		case ActReview, ActHold:
			return own.Everything
		case ActSettle, ActReply, ActUphold:
			return own.Name
		case ActAudit:
			return !SealedFrom(now.Actor, now.Submission)
		}
		return false
	})
}

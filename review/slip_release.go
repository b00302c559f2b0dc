package review

import (
	"slices"
	"time"
)

// SlipReleased: a reviewer lets a slip with their name be printed for what they last said of a name, or takes that back. An opinion
// that they give later takes its place and has to be released anew: nobody's name goes onto a pin beside words that they have not
// seen.
type SlipReleased struct {
	TakenBack bool `json:"taken_back,omitempty"`
}

// EventKind implements Change.
func (*SlipReleased) EventKind() string { return "slip-released" }

func init() { newChange["slip-released"] = func() Change { return &SlipReleased{} } }

// SlipOf is the opinion of a person that prints a slip, whether released or not; false where there is none.
func (s *Submission) SlipOf(person string) (Opinion, bool) {
	for _, o := range s.Opinions {
		if o.By == person && o.Slip(&s.Determination) != "" {
			return o, true
		}
	}
	return Opinion{}, false
}

// PrintedOpinions are the opinions whose slips may be printed and are shown to an actor: released by their signers, and not on a name
// of the signer's own. Who gave another name and has determined the specimen by it has a slip of that determination.
func (s *Submission) PrintedOpinions(actor Actor, siblings []Submission) []Opinion {
	var printed []Opinion
	for _, o := range s.counted(siblings) {
		sealed := o.By != actor.Person && SealedFrom(actor, s)
		if o.ReleasedAt == nil || o.Slip(&s.Determination) == "" || sealed || o.Kind == OpinionAnother && ownName(Actor{Person: o.By}, &Submission{Determination: Determination{Family: o.Family}}, siblings) {
			continue
		}
		printed = append(printed, o)
	}
	return printed
}

// DecideReleaseSlip lets the slip of the actor's own opinion be printed, or takes that back.
func DecideReleaseSlip(now *Dossier, takeBack bool) (Decision, error) {
	if _, err := Transition(now.Actor, ActReleaseSlip, now.Submission); err != nil {
		return Decision{}, err
	}
	o, ok := now.Submission.SlipOf(now.Actor.Person)
	switch {
	case !ok:
		return Decision{}, Errorf(KindConflict, "You have said nothing of this name that prints a slip: seen with the name left open prints none. Nothing was changed.")
	case !takeBack && ownName(now.Actor, now.Submission, now.Siblings):
		return Decision{}, Errorf(KindForbidden, "%s is a name that you have given to this specimen yourself: its slip is your det., and nobody confirms a name of their own. Nothing was changed.", now.Submission.Determination.Family)
	case takeBack == (o.ReleasedAt == nil):
		return Decision{}, nil // as it was
	}
	return Decision{Submission: []Change{&SlipReleased{TakenBack: takeBack}}}, nil
}

// releaseSlip notes since when the opinion of a person may be printed; nil: it may not.
func releaseSlip(opinions []Opinion, person string, at *time.Time) []Opinion {
	released := slices.Clone(opinions)
	for i := range released {
		if released[i].By == person {
			released[i].ReleasedAt = at
		}
	}
	return released
}

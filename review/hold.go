package review

import "time"

// DecideHold keeps a submission for one reviewer for as long as the policy says; holding again extends it.
func DecideHold(m Moment, s *Submission, p Policy) (Decision, error) {
	if _, err := Transition(m.Actor, ActHold, s); err != nil {
		return Decision{}, err
	}
	if err := NotHeldByOther(m, s); err != nil {
		return Decision{}, err
	}
	until := m.Now.Add(time.Duration(p.HoldMinutes) * time.Minute)
	return Decision{Submission: []Change{&Held{Until: until}}}, nil
}

// DecideEndHold ends the actor's own hold early; a curator ends anybody's, so that who holds much and does nothing keeps
// nobody from it.
func DecideEndHold(m Moment, s *Submission) (Decision, error) {
	if _, err := Transition(m.Actor, ActEndHold, s); err != nil {
		return Decision{}, err
	}
	if s.Hold == nil || s.Hold.By != m.Actor.Person && m.Actor.Role != RoleCurator {
		return Decision{}, Errorf(KindConflict, "You do not hold this submission, so there is no hold to end.")
	}
	return Decision{Submission: []Change{&HoldEnded{}}}, nil
}

// NotHeldByOther is a conflict where somebody else holds the submission.
func NotHeldByOther(m Moment, s *Submission) error {
	if !s.HeldByOther(m.Actor.Person, m.Now) {
		return nil
	}
	return Errorf(KindConflict, "Another reviewer holds this submission until %s. Nothing was stored: send it again then.",
		s.Hold.Until.Format("15:04 MST"))
}

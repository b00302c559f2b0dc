package review

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Holding is a submission that somebody holds.
type Holding struct {
	Submission      string    `json:"submission"`
	CatalogueNumber string    `json:"catalogue_number"`
	Until           time.Time `json:"until"`
}

// MostHeld bounds what a person holds at a time: who holds everything keeps everybody from it.
type MostHeld struct {
	Person string
	At     time.Time
	Most   int
}

// DecideHold keeps a submission for one reviewer for as long as the policy says; holding again extends it. holdings are
// what the actor holds now. Who has nothing to judge in it keeps nobody from it.
func DecideHold(now *Dossier, holdings []Holding) (Decision, error) {
	m, s, p := now.Moment, now.Submission, now.Policy
	if _, err := Transition(m.Actor, ActHold, s); err != nil {
		return Decision{}, err
	}
	if now.Own().Everything {
		return Decision{}, Errorf(KindForbidden, "The name and what was observed are your own, in this submission or in another of the specimen, so that nothing in it is yours to judge. It is not held: others may look at it.")
	}
	if err := NotHeldByOther(m, s); err != nil {
		return Decision{}, err
	}
	others := slices.DeleteFunc(slices.Clone(holdings), func(h Holding) bool { return h.Submission == s.ID })
	if most := p.MostHolds(); len(others) >= most {
		return Decision{}, Errorf(KindConflict, "You hold %d %s already, and the policy lets one person hold %d at once: %s. Nothing was stored: review one of them or end its hold, then hold this one.",
			len(others), Plural(len(others), "submission", "submissions"), most, holdingWords(others))
	}
	until := m.Now.Add(time.Duration(p.HoldMinutes) * time.Minute)
	return Decision{Submission: []Change{&Held{Until: until}}}, nil
}

// holdingWords name what is held.
func holdingWords(holdings []Holding) string {
	words := make([]string, len(holdings))
	for i, h := range holdings {
		words[i] = fmt.Sprintf("%s (until %s)", cmp.Or(h.CatalogueNumber, "submission "+h.Submission), h.Until.UTC().Format("15:04 MST"))
	}
	return strings.Join(words, ", ")
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

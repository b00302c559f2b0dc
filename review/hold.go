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

// DecidePassHold passes what somebody holds on to somebody else, who could hold it by themselves if nobody did: theirs is the dossier as
// that person has it, and holdings are what they hold now. Who does not keep accounts, or could not end the hold, passes nothing on.
func DecidePassHold(now, theirs *Dossier, holdings []Holding, reason string) (Decision, error) {
	m, s, to := now.Moment, now.Submission, theirs.Moment.Actor
	var p Problems
	CheckText(&p, "reason", reason, 1, MaxNote)
	if s.Hold != nil && s.Hold.By == to.Person {
		p.Addf("to", "holds it already")
	}
	if err := p.Err(); err != nil {
		return Decision{}, err
	}
	if !May(m.Actor, ActKeepAccounts, "") {
		return Decision{}, Forbidden(m.Actor, ActKeepAccounts, "")
	}
	if _, err := Transition(m.Actor, ActEndHold, s); err != nil {
		return Decision{}, err
	}
	if s.Hold == nil || !m.Now.Before(s.Hold.Until) {
		return Decision{}, Errorf(KindConflict, "Nobody holds this submission any more. Nothing was changed.")
	}
	free, asked := *theirs.Submission, *theirs
	free.Hold, asked.Submission = nil, &free
	made, err := DecideHold(&asked, holdings)
	if err == nil {
		err = asked.ForMentor(made)
	}
	if kind := KindOf(err); kind == KindForbidden || kind == KindConflict {
		return Decision{}, MayNotTakeOver(to, s)
	}
	if err != nil {
		return Decision{}, err
	}
	return Decision{Submission: []Change{&HoldPassedOn{To: to.Person, Until: m.Now.Add(time.Duration(now.Policy.HoldMinutes) * time.Minute), Reason: strings.TrimSpace(reason)}}}, nil
}

// MayNotTakeOver refuses to pass a hold on, without telling more of somebody else than whoever keeps accounts may know.
func MayNotTakeOver(to Actor, s *Submission) error {
	return Errorf(KindConflict, "%s may not take over %s: that is no reviewer, or it is their own, of a family that they do not review, for a mentor, to be looked at blind first, or they hold as much as one may. "+
		"Nothing was changed; choose somebody else.", to.Name, cmp.Or(s.Determination.ScientificName, s.Determination.Family))
}

// NotHeldByOther is a conflict where somebody else holds the submission.
func NotHeldByOther(m Moment, s *Submission) error {
	if !s.HeldByOther(m.Actor.Person, m.Now) {
		return nil
	}
	return Errorf(KindConflict, "Another reviewer holds this submission until %s. Nothing was stored: send it again then.",
		s.Hold.Until.Format("15:04 MST"))
}

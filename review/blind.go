package review

import (
	"slices"
	"strings"
	"time"

	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// BlindCheck is what a reviewer saw who knew nothing of the name, the stated state or what others said: the marked
// photo, the character, and the question. Who looks blind is drawn at random when a submission comes before reviewers,
// with the probability that the policy says.
type BlindCheck struct {
	Observation string `json:"observation"`
	// State is what was seen; empty where Kind says why nothing was.
	State string      `json:"state,omitempty"`
	Kind  VerdictKind `json:"kind,omitempty"` // not-visible, part-missing or cannot-judge
	Note  string      `json:"note,omitempty"`
	By    string      `json:"by"`
	Role  Role        `json:"role"`
	Rate  float64     `json:"rate"` // probability with which this check was drawn
	At    time.Time   `json:"at"`
}

// BlindForm is the answer to a blind check: a state, or why there is none.
type BlindForm struct {
	State string      `json:"state,omitempty" maxLength:"60" doc:"State that is seen, or the count"`
	Kind  VerdictKind `json:"kind,omitempty" enum:",not-visible,part-missing,cannot-judge" doc:"Why no state is given"`
	Note  string      `json:"note,omitempty" maxLength:"2000"`
}

// BlindChecked: a reviewer has looked blind.
type BlindChecked struct {
	Check BlindCheck `json:"check"`
}

// EventKind implements Change.
func (*BlindChecked) EventKind() string { return "blind-checked" }

func init() { newChange["blind-checked"] = func() Change { return &BlindChecked{} } }

// drawnBlind is the observation that a person was drawn to look at blind, and false where none was or the person knows
// the submission already. It depends on the submission, the specimen and the person alone, so that nobody gets another
// one by asking twice. Curators audit, so that nothing can be hidden from them and they are never drawn.
func drawnBlind(person Actor, s *Submission, spec *Specimen, siblings []Submission, t *diagnosis.Tables) (Observation, bool) {
	if s.Draw == nil || !person.LooksBlind() || (s.Status != StatusOpen && s.Status != StatusReturned) {
		return Observation{}, false
	}
	if !s.Draw.Drawn(person.Person) || knows(person.Person, s, siblings) {
		return Observation{}, false
	}
	candidates := blindCandidates(person.Person, s, spec, t)
	if len(candidates) == 0 {
		return Observation{}, false
	}
	return candidates[s.Draw.pick(person.Person, len(candidates))], true
}

// drawn is drawnBlind for the actor. Who has been shown the specimen with its names is asked nothing.
func (now *Dossier) drawn() (Observation, bool) {
	if now.Opened.Seq > 0 {
		return Observation{}, false
	}
	return drawnBlind(now.Actor, now.Submission, now.Specimen, now.Siblings, now.Judge.Tables())
}

// knows says whether a person has had to do with a specimen before: a look would not be blind.
func knows(person string, s *Submission, siblings []Submission) bool {
	if s.knownTo(person) {
		return true
	}
	return slices.ContainsFunc(siblings, func(o Submission) bool { return o.ID != s.ID && o.OpenedAt != nil && o.knownTo(person) })
}

// knownTo says whether a person owns or determined the submission, reviewed it, or has looked at it blind.
func (s *Submission) knownTo(person string) bool { return slices.Contains(s.KnownTo(), person) }

// KnownTo lists the persons from whom nothing about the submission can be kept any more.
func (s *Submission) KnownTo() []string {
	known := []string{s.Owner, s.Determination.Determiner}
	for _, v := range s.Verdicts {
		known = append(known, v.By)
	}
	for _, o := range s.Opinions {
		known = append(known, o.By)
	}
	for _, r := range s.Returns {
		known = append(known, r.By)
	}
	for _, b := range s.Blind {
		known = append(known, b.By)
	}
	for _, a := range s.Audits {
		known = append(known, a.By)
	}
	if s.Recheck != nil {
		known = append(known, s.Recheck.Left...)
		for _, o := range s.Recheck.Opinions {
			known = append(known, o.By)
		}
	}
	slices.Sort(known)
	return slices.DeleteFunc(slices.Compact(known), func(id string) bool { return id == "" })
}

// blindCandidates are the observations that can be asked for: standing ones of others, of a character whose states are
// chosen. In the order in which they were recorded, the ones on a marked photo alone where there are any.
func blindCandidates(person string, s *Submission, spec *Specimen, t *diagnosis.Tables) []Observation {
	var all, marked []Observation
	for _, o := range spec.Observations {
		c, ok := t.Character(o.Character)
		if !ok || o.Withdrawn != "" || o.By == person || !slices.Contains(s.Cites, o.ID) || c.Kind == diagnosis.KindLength {
			continue
		}
		all = append(all, o)
		if o.Photo != "" {
			marked = append(marked, o)
		}
	}
	if len(marked) > 0 {
		return marked
	}
	return all
}

// DecideBlind keeps what somebody has seen of the observation that was asked for, or why nothing.
func DecideBlind(m Moment, s *Submission, asked Observation, form BlindForm, judge *judgement.Judge) (Decision, error) {
	if _, err := Transition(m.Actor, ActBlind, s); err != nil {
		return Decision{}, err
	}
	var p Problems
	switch form.Kind {
	case "":
		if form.State == "" {
			p.Addf("state", "choose what you see, or say why you cannot")
		} else if err := judge.CheckState(asked.Character, form.State); err != nil {
			p.Addf("state", "%s", err)
		}
	case VerdictNotVisible, VerdictPartMissing, VerdictCannotJudge:
		if form.State != "" {
			p.Addf("state", "either a state, or why there is none")
		}
	default:
		p.Addf("kind", "must be not-visible, part-missing or cannot-judge")
	}
	CheckText(&p, "note", form.Note, 0, MaxNote)
	if err := p.Err(); err != nil {
		return Decision{}, err
	}
	check := BlindCheck{Observation: asked.ID, State: form.State, Kind: form.Kind, Note: strings.TrimSpace(form.Note),
		By: m.Actor.Person, Role: m.Actor.Role, Rate: s.Draw.Rate, At: m.Now}
	return Decision{Submission: []Change{&BlindChecked{Check: check}}}, nil
}

// Hidden is an error where the actor is to look blind before anything is shown.
func (now *Dossier) Hidden() error {
	look := now.Submission.ID
	if now.OnPanel() {
		return &Error{Kind: KindBlind, Look: look, Message: "This determination is closed and was drawn to be looked at again by people who have not seen it. Name the family from the photos first, or leave the panel: then you see everything."}
	}
	if _, drawn := now.drawn(); !drawn {
		return nil
	}
	if now.Submission.Status == StatusReturned {
		return Errorf(KindBlind, "You are drawn to look at this submission blind, and it is with its owner at present. You can look when it comes back.")
	}
	return &Error{Kind: KindBlind, Look: look, Message: "You are drawn to look at one character of this submission before you see anything else of it. Answer that question first."}
}

// Asked is the observation that the actor is to look at blind now.
func (now *Dossier) Asked() (Observation, error) {
	o, drawn := now.drawn()
	if !drawn {
		return Observation{}, Errorf(KindConflict, "There is nothing here for you to look at blind. Nothing was stored.")
	}
	return o, nil
}

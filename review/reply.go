package review

import (
	"slices"
	"strings"

	"revidit/review/judgement"
)

// ReplyForm is a written reason why a contradiction does not stand against the name.
type ReplyForm struct {
	Kind      judgement.ContradictionKind `json:"kind" enum:"excluded,unusual,combination,incompatible,unseen,better-fit"`
	Character string                      `json:"character" maxLength:"60"`
	State     string                      `json:"state" maxLength:"60"`
	Reason    string                      `json:"reason" minLength:"1" maxLength:"2000"`
}

// DecideReply keeps a written reason why a contradiction does not stand.
func DecideReply(m Moment, s *Submission, form ReplyForm) (Decision, error) {
	if _, err := Transition(m.Actor, ActReply, s); err != nil {
		return Decision{}, err
	}
	if err := NotHeldByOther(m, s); err != nil {
		return Decision{}, err
	}
	var p Problems
	CheckText(&p, "reason", form.Reason, 1, MaxNote)
	if !s.contradicted(form) {
		p.Addf("character", "no such contradiction stands against this submission")
	}
	if err := p.Err(); err != nil {
		return Decision{}, err
	}
	reply := Reply{Kind: form.Kind, Character: form.Character, State: form.State, Reason: strings.TrimSpace(form.Reason),
		By: m.Actor.Person, At: m.Now}
	return Decision{Submission: []Change{&Replied{Reply: reply}}}, nil
}

func (s *Submission) contradicted(form ReplyForm) bool {
	if s.Assessment == nil {
		return false
	}
	return slices.ContainsFunc(s.Assessment.Contradictions, func(c judgement.Contradiction) bool {
		return c.Kind == form.Kind && c.Character == form.Character && c.State == form.State
	})
}

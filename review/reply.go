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

// DecideReply keeps a written reason why a contradiction does not stand. shown are those that the actor may see (Dossier.Shown):
// whoever may not see what others said hears nothing of it from an error either. Nobody speaks for a name of their own.
func DecideReply(now *Dossier, form ReplyForm, shown []judgement.Contradiction) (Decision, error) {
	m, s := now.Moment, now.Submission
	if _, err := Transition(m.Actor, ActReply, s); err != nil {
		return Decision{}, err
	}
	if err := now.notOwnName("speaks for"); err != nil {
		return Decision{}, err
	}
	if err := NotHeldByOther(m, s); err != nil {
		return Decision{}, err
	}
	var p Problems
	CheckText(&p, "reason", form.Reason, 1, MaxNote)
	if !slices.ContainsFunc(shown, form.answers) {
		p.Addf("character", "no such contradiction stands against this submission")
	}
	if err := p.Err(); err != nil {
		return Decision{}, err
	}
	reply := Reply{Kind: form.Kind, Character: form.Character, State: form.State, Reason: strings.TrimSpace(form.Reason),
		By: m.Actor.Person, At: m.Now}
	return Decision{Submission: []Change{&Replied{Reply: reply}}}, nil
}

func (f ReplyForm) answers(c judgement.Contradiction) bool {
	return c.Kind == f.Kind && c.Character == f.Character && c.State == f.State
}

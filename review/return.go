package review

import (
	"strings"

	"revidit/review/diagnosis"
)

// ReturnForm asks the owner for something.
type ReturnForm struct {
	Want Want   `json:"want" enum:"photo,specimen,preparation"`
	View string `json:"view,omitempty" maxLength:"40" doc:"Where a photo is wanted: its view"`
	Text string `json:"text" minLength:"1" maxLength:"2000" doc:"What is wanted and why"`
}

// DecideReturn sends a submission back to its owner with a request.
func DecideReturn(m Moment, s *Submission, form ReturnForm, tables *diagnosis.Tables) (Decision, error) {
	if _, err := Transition(m.Actor, ActReturn, s); err != nil {
		return Decision{}, err
	}
	if err := NotHeldByOther(m, s); err != nil {
		return Decision{}, err
	}
	var p Problems
	CheckText(&p, "text", form.Text, 1, MaxNote)
	switch form.Want {
	case WantPhoto:
		checkView(&p, "view", form.View, tables)
	case WantSpecimen, WantPreparation:
		if form.View != "" {
			p.Addf("view", "only where a photo is wanted")
		}
	default:
		p.Addf("want", "must be photo, specimen or preparation")
	}
	if err := p.Err(); err != nil {
		return Decision{}, err
	}
	r := Return{ID: m.NewID(), Want: form.Want, View: form.View, Text: strings.TrimSpace(form.Text), By: m.Actor.Person,
		At: m.Now, Answers: []Answer{}}
	return Decision{Submission: []Change{&Returned{Return: r}}}, nil
}

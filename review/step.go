package review

import "slices"

// Asked is a character that somebody is asked for, of the wider group where Group is set.
type Asked struct{ Group, Character string }

// Answered are the characters that need not be asked any more: stated ones and those that could not be.
func (now *Dossier) Answered() []Asked {
	var answered []Asked
	for _, o := range now.observationForms() {
		answered = append(answered, Asked{Character: o.Character})
	}
	for _, u := range now.Submission.Unseen {
		answered = append(answered, Asked{u.Group, u.Character})
	}
	for _, a := range now.Submission.Wider {
		for _, n := range now.Judge.WiderQuestions() {
			if n.Character == a.Character {
				answered = append(answered, Asked{n.Group, n.Character})
			}
		}
	}
	return answered
}

// Step is one answer of the owner of a draft who is asked one question after another. Exactly one of State and Why is given, or
// neither: then the answer is taken back.
type Step struct {
	Group     string // of a question of the wider group; empty: of the tables
	Character string
	State     string
	Why       WhyUnseen
	Sureness  Sureness
	Photo     string
	Region    *Region
}

// On is what a step changes in the draft that is looked at.
func (s Step) On(now *Dossier) Revision {
	unseen := slices.DeleteFunc(slices.Clone(now.Submission.Unseen), func(u Unseen) bool { return u.Group == s.Group && u.Character == s.Character })
	if s.Why != "" {
		unseen = append(unseen, Unseen{Group: s.Group, Character: s.Character, Why: s.Why})
	}
	r := Revision{Unseen: append([]Unseen{}, unseen...)}
	if s.Group != "" {
		r.Wider = append([]WiderAnswer{}, slices.DeleteFunc(slices.Clone(now.Submission.Wider), func(a WiderAnswer) bool { return a.Character == s.Character })...)
		if s.State != "" {
			r.Wider = append(r.Wider, WiderAnswer{Character: s.Character, State: s.State})
		}
		return r
	}
	r.Observations = slices.DeleteFunc(now.observationForms(), func(o ObservationForm) bool { return o.Character == s.Character })
	if s.State != "" {
		r.Observations = append(r.Observations, ObservationForm{Character: s.Character, State: s.State, Sureness: s.Sureness, Photo: s.Photo, Region: s.Region})
	}
	return r
}

// WithoutPhotos are the standing observations of a submission as a form has them, without the photos that it no longer has.
func (now *Dossier) WithoutPhotos(left []PhotoForm) []ObservationForm {
	forms := now.observationForms()
	for i, o := range forms {
		if o.Photo != "" && !slices.ContainsFunc(left, func(p PhotoForm) bool { return p.Photo == o.Photo }) {
			forms[i].Photo, forms[i].Region = "", nil
		}
	}
	return forms
}

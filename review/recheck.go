package review

import (
	"slices"
	"strings"
	"time"

	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// Recheck is a look at a closed determination by reviewers who have had nothing to do with it and are shown the photos
// alone. Which ones are looked at again is drawn at random when they close. What such a panel finds is the truth that
// calibration is measured against: never our own settlement.
type Recheck struct {
	Rate    float64   `json:"rate"`  // probability with which it was drawn
	Panel   int       `json:"panel"` // how many have to look
	DrawnAt time.Time `json:"drawn_at"`
	// Closing and Opening are what the service claimed when the submission closed and when it was opened.
	Closing  Claim          `json:"closing"`
	Opening  Claim          `json:"opening"`
	Opinions []PanelOpinion `json:"opinions"`
	// Left are persons who chose to see the determination and are no longer blind.
	Left []string `json:"left"`
}

// Claim is what the service held to be the most probable family, with its probability.
type Claim struct {
	Family string  `json:"family"`
	P      float64 `json:"p"`
}

// claimOf is the claim of an assessment.
func claimOf(a judgement.Assessment) Claim {
	if len(a.Ranking) == 0 {
		return Claim{}
	}
	return Claim(a.Ranking[0])
}

// PanelOpinion is a family as somebody named it who saw nothing but the photos.
type PanelOpinion struct {
	// Family is an accepted name, NoneOfThese, or empty for "cannot be told from these photos".
	Family string    `json:"family"`
	Note   string    `json:"note,omitempty"`
	By     string    `json:"by"`
	At     time.Time `json:"at"`
}

// PanelForm is an answer of the panel.
type PanelForm struct {
	Family string `json:"family,omitempty" maxLength:"60" doc:"Family as you see it, none-of-these, or empty where the photos do not tell"`
	Note   string `json:"note,omitempty" maxLength:"2000"`
}

// Complete says whether the panel has looked.
func (r *Recheck) Complete() bool { return len(r.Opinions) >= r.Panel }

// Truth is the family that more than half of a complete panel named, and false where the panel is not complete or
// divided, or could not tell.
func (r *Recheck) Truth() (string, bool) {
	if !r.Complete() {
		return "", false
	}
	votes := map[string]int{}
	for _, o := range r.Opinions {
		votes[o.Family]++
		if o.Family != "" && 2*votes[o.Family] > len(r.Opinions) {
			return o.Family, true
		}
	}
	return "", false
}

// Changes of a recheck, in the stream of the submission.
type (
	// RecheckDrawn: a closed submission is to be looked at again.
	RecheckDrawn struct {
		Rate  float64 `json:"rate"`
		Panel int     `json:"panel"`
	}
	// PanelOpinionGiven is the answer of one person on the panel.
	PanelOpinionGiven struct {
		Opinion PanelOpinion `json:"opinion"`
	}
	// PanelLeft: somebody wants to see the determination, and so cannot look blind any more.
	PanelLeft struct{}
)

// EventKind implements Change.
func (*RecheckDrawn) EventKind() string { return "recheck-drawn" }

// EventKind implements Change.
func (*PanelOpinionGiven) EventKind() string { return "panel-opinion-given" }

// EventKind implements Change.
func (*PanelLeft) EventKind() string { return "panel-left" }

func init() {
	newChange["recheck-drawn"] = func() Change { return &RecheckDrawn{} }
	newChange["panel-opinion-given"] = func() Change { return &PanelOpinionGiven{} }
	newChange["panel-left"] = func() Change { return &PanelLeft{} }
}

// OnPanel says whether a person is to look at a closed submission before seeing anything of it.
func OnPanel(person Actor, s *Submission, siblings []Submission) bool {
	return s.RecheckOpen() && person.LooksBlind() && !knows(person.Person, s, siblings)
}

// OnPanel says whether the actor is to look at the submission before seeing anything of it. Who has been shown it before, while
// it was open, is no panel.
func (now *Dossier) OnPanel() bool {
	return now.Opened.Seq == 0 && OnPanel(now.Actor, now.Submission, now.Siblings)
}

// RecheckOpen says whether a panel still has to look: of a determination that another one has followed, or that was
// taken back, nobody asks any more.
func (s *Submission) RecheckOpen() bool {
	return s.Recheck != nil && !s.Recheck.Complete() && (s.Status == StatusConfirmed || s.Status == StatusUndetermined)
}

// recheck draws whether a submission that has just been confirmed or left undetermined is looked at again.
func (now *Dossier) recheck(made Change) (Change, bool) {
	switch made.(type) {
	case *Confirmed, *Undetermined:
	default:
		return nil, false
	}
	chance := Draw{Rate: now.Policy.RecheckRate, Seed: now.Seed()}
	if !chance.Drawn("recheck") {
		return nil, false
	}
	return &RecheckDrawn{Rate: chance.Rate, Panel: now.Policy.Panel}, true
}

// DecidePanel keeps the family that somebody on a panel names.
func DecidePanel(m Moment, s *Submission, form PanelForm, t *diagnosis.Tables) (Decision, error) {
	if _, err := Transition(m.Actor, ActPanel, s); err != nil {
		return Decision{}, err
	}
	var p Problems
	name := form.Family
	if name != "" && name != judgement.NoneOfThese {
		family, _, ok := t.Resolve(name)
		if !ok {
			p.Addf("family", "%s", t.NotAName(name))
		} else {
			name = family.Name
		}
	}
	CheckText(&p, "note", form.Note, 0, MaxNote)
	if err := p.Err(); err != nil {
		return Decision{}, err
	}
	opinion := PanelOpinion{Family: name, Note: strings.TrimSpace(form.Note), By: m.Actor.Person, At: m.Now}
	return Decision{Submission: []Change{&PanelOpinionGiven{Opinion: opinion}}}, nil
}

// DecideLeave shows a determination to somebody, who then sits on its panel no longer.
func DecideLeave(m Moment, s *Submission) (Decision, error) {
	if _, err := Transition(m.Actor, ActPanel, s); err != nil {
		return Decision{}, err
	}
	return Decision{Submission: []Change{&PanelLeft{}}}, nil
}

func (s *Submission) applyRecheck(e Event) {
	var r Recheck
	if s.Recheck != nil {
		r = *s.Recheck
	}
	switch c := e.Change.(type) {
	case *RecheckDrawn:
		r = Recheck{Rate: c.Rate, Panel: c.Panel, DrawnAt: e.At, Opening: s.Opening, Opinions: []PanelOpinion{}, Left: []string{}}
		if s.Assessment != nil {
			r.Closing = claimOf(*s.Assessment)
		}
	case *PanelOpinionGiven:
		r.Opinions = append(slices.Clone(r.Opinions), c.Opinion)
	case *PanelLeft:
		r.Left = append(slices.Clone(r.Left), e.Actor)
	}
	s.Recheck = &r
}

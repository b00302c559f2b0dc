package review

import (
	"fmt"
	"slices"
	"strings"

	"revidit/review/judgement"
)

// AnswerForm is the owner's answer.
type AnswerForm struct {
	Text         string            `json:"text,omitempty" maxLength:"2000"`
	Photos       []PhotoForm       `json:"photos,omitempty"`
	Observations []ObservationForm `json:"observations,omitempty"`
	// Withdraw are ids of one's own observations that were mistaken.
	Withdraw   []string `json:"withdraw,omitempty"`
	SentOn     string   `json:"sent_on,omitempty" maxLength:"10" doc:"Day on which the specimen was sent"`
	ReceivedOn string   `json:"received_on,omitempty" maxLength:"10" doc:"Day on which it was received"`
}

// DecideAnswer adds what the owner answers, and what they take back; a returned submission comes before reviewers again. uploads are
// the photos that the form names, in its order.
func DecideAnswer(m Moment, s *Submission, spec *Specimen, form AnswerForm, uploads []Upload, judge *judgement.Judge) (Decision, error) {
	if _, err := Transition(m.Actor, ActAnswer, s); err != nil {
		return Decision{}, err
	}
	if err := form.check(m, s, spec, judge).Err(); err != nil {
		return Decision{}, err
	}
	photos := PhotosOf(uploads, form.Photos)
	recorded := Observations(asked(form.Observations), m)
	answer := Answer{Text: strings.TrimSpace(form.Text), Withdrawn: form.Withdraw, SentOn: form.SentOn,
		ReceivedOn: form.ReceivedOn, By: m.Actor.Person, At: m.Now}
	var d Decision
	if len(photos) > 0 {
		d.Specimen = append(d.Specimen, &PhotosAdded{Photos: photos})
		answer.Photos = photoIDs(photos)
	}
	if len(recorded) > 0 {
		d.Specimen = append(d.Specimen, &ObservationsRecorded{Observations: recorded})
		answer.Observations = ObservationIDs(recorded)
	}
	for _, id := range form.Withdraw {
		d.Specimen = append(d.Specimen, &ObservationWithdrawn{Observation: id, Reason: answerReason(answer.Text)})
	}
	d.Submission = []Change{&Answered{Answer: answer}}
	return d, nil
}

// asked are observations in an answer, which are never told freely.
func asked(forms []ObservationForm) []ObservationForm {
	forms = slices.Clone(forms)
	for i := range forms {
		forms[i].List = ListAsked
	}
	return forms
}

func answerReason(text string) string {
	if text == "" {
		return ReasonTakenBack
	}
	return text
}

func (f AnswerForm) check(m Moment, s *Submission, spec *Specimen, judge *judgement.Judge) Problems {
	var p Problems
	CheckText(&p, "text", f.Text, 0, MaxNote)
	asDraft := SubmissionForm{Photos: f.Photos}
	asDraft.checkPhotos(&p, judge.Tables(), false)
	if len(s.Photos)+len(f.Photos) > maxPhotos {
		p.Addf("photos", "at most %d photos on a submission; it has %d already", maxPhotos, len(s.Photos))
	}
	known := asDraft.photoIDs()
	for _, id := range s.Photos {
		known[id] = true
	}
	checkObservations(&p, judge, f.Observations, known)
	if len(s.Cites)+len(f.Observations) > maxObservations {
		p.Addf("observations", "at most %d observations on a submission; it has %d already", maxObservations, len(s.Cites))
	}
	f.checkWithdraw(&p, m, s, spec)
	f.checkRepeated(&p, m, s, spec)
	checkDate(&p, "sent_on", f.SentOn)
	checkDate(&p, "received_on", f.ReceivedOn)
	if f.Text == "" && len(f.Photos)+len(f.Observations)+len(f.Withdraw) == 0 && f.SentOn == "" && f.ReceivedOn == "" {
		p.Addf("text", "write an answer, or add a photo or an observation")
	}
	return p
}

func (f AnswerForm) checkWithdraw(p *Problems, m Moment, s *Submission, spec *Specimen) {
	for i, id := range f.Withdraw {
		field := fmt.Sprintf("withdraw[%d]", i)
		o, ok := spec.Observation(id)
		if !ok || o.Withdrawn != "" || !slices.Contains(s.Cites, id) || slices.Contains(f.Withdraw[:i], id) {
			p.Addf(field, "is not a standing observation of this submission")
			continue
		}
		if o.By != m.Actor.Person {
			p.Addf(field, "is not your own observation; only its observer takes it back")
		}
	}
}

// checkRepeated refuses a second standing observation by the same person on the same character: one glance is no two
// proofs.
func (f AnswerForm) checkRepeated(p *Problems, m Moment, s *Submission, spec *Specimen) {
	for i, form := range f.Observations {
		for _, o := range spec.Observations {
			standing := o.Withdrawn == "" && slices.Contains(s.Cites, o.ID) && !slices.Contains(f.Withdraw, o.ID)
			if standing && o.Character == form.Character && o.By == m.Actor.Person {
				p.Addf(fmt.Sprintf("observations[%d].character", i), "you have stated %s already; take that one back as well", form.Character)
			}
		}
	}
}

package modelstest

import (
	"fmt"

	"revidit/review"
	"revidit/review/judgement"
	"revidit/review/service"
)

// acts are what can be tried on a submission; frequent ones stand there twice.
func (w *world) acts() []act {
	ctx, s := w.Context(), w.service
	reason := func() string { return pick(w, "worn", "rubbed", "damaged in the post", "other names fit", "") }
	return []act{
		{"submit", func(a review.Actor, id string, v int) (service.Done, error) { return s.Submit(ctx, a, id, v) }},
		{"submit", func(a review.Actor, id string, v int) (service.Done, error) { return s.Submit(ctx, a, id, v) }},
		{"revise", func(a review.Actor, id string, v int) (service.Done, error) {
			w.upload(a)
			return s.Revise(ctx, a, id, v, review.WholeRevision(w.form()))
		}},
		{"revise and submit", func(a review.Actor, id string, v int) (service.Done, error) {
			return s.ReviseAndSubmit(ctx, a, id, v, review.WholeRevision(w.form()))
		}},
		{"hold", func(a review.Actor, id string, v int) (service.Done, error) { return s.Hold(ctx, a, id, v) }},
		{"hold", func(a review.Actor, id string, v int) (service.Done, error) { return s.Hold(ctx, a, id, v) }},
		{"release", func(a review.Actor, id string, v int) (service.Done, error) { return s.EndHold(ctx, a, id, v) }},
		{"release", func(a review.Actor, id string, v int) (service.Done, error) { return s.EndHold(ctx, a, id, v) }},
		{"review", w.review}, {"review", w.review}, {"review", w.review}, {"review", w.review},
		{"return", func(a review.Actor, id string, v int) (service.Done, error) {
			return s.Return(ctx, a, id, v, w.returnForm())
		}},
		{"answer", w.answer}, {"answer", w.answer},
		{"undetermine", func(a review.Actor, id string, v int) (service.Done, error) {
			return s.Undetermine(ctx, a, id, v, reason())
		}},
		{"withdraw", func(a review.Actor, id string, v int) (service.Done, error) {
			return s.Withdraw(ctx, a, id, v, reason())
		}},
		{"reopen", func(a review.Actor, id string, v int) (service.Done, error) {
			return s.Reopen(ctx, a, id, v, reason())
		}},
		{"audit", func(a review.Actor, id string, v int) (service.Done, error) {
			return s.Audit(ctx, a, id, v, reason())
		}},
		{"uphold", func(a review.Actor, id string, v int) (service.Done, error) {
			return s.Uphold(ctx, a, id, v, reason())
		}},
		{"settle", func(a review.Actor, id string, v int) (service.Done, error) {
			return s.Settle(ctx, a, id, v, reason())
		}},
		{"redetermine", w.redetermine}, {"redetermine", w.redetermine},
		{"reply", w.reply}, {"reply", w.reply},
		{"begin again", func(a review.Actor, id string, v int) (service.Done, error) {
			if w.chance(0.2) { // the same specimen before another group
				w.group = pick(w, firstGroup, otherGroup)
			}
			form := w.form()
			form.Specimen = pick(w, w.specimen, w.specimen, w.specimen, "none")
			return s.Draft(ctx, a, form, "")
		}},
		{"correct label", w.correctLabel},
		{"blind check", w.blindCheck}, {"blind check", w.blindCheck}, {"blind check", w.blindCheck},
		{"panel opinion", w.panelOpinion}, {"panel opinion", w.panelOpinion}, {"panel opinion", w.panelOpinion}, {"panel opinion", w.panelOpinion},
		{"leave panel", func(a review.Actor, id string, v int) (service.Done, error) { return s.LeavePanel(ctx, a, id, v) }},
		{"leave panel", func(a review.Actor, id string, v int) (service.Done, error) { return s.LeavePanel(ctx, a, id, v) }},
		{"refit", w.refit},
		{"set policy", w.setPolicy},
		{"propose cell", w.proposeCell}, {"decide cell", w.decideCell}, {"decide cell", w.decideCell}, {"publish", w.publish},
	}
}

func (w *world) form() review.SubmissionForm {
	form := review.SubmissionForm{Group: w.group, Label: w.label(), Withheld: w.withheld(), Family: w.family(),
		Remarks: pick(w, "", "legs missing", "fußlos\n🪲")}
	if w.chance(0.03) {
		form.Group = pick(w, firstGroup, otherGroup, "none")
	}
	if w.chance(0.3) {
		form.ScientificName, form.Qualifier = "Agriotes lineatus", pick(w, "", "cf.", "aff.", "?")
	}
	if w.chance(0.2) {
		form.DeterminerName, form.DeterminedOn = "Old Hand", pick(w, "1926", "1926-05", "1926-05-03", "1926-13")
	}
	for _, photo := range w.uploads {
		if w.chance(0.7) {
			form.Photos = append(form.Photos, review.PhotoForm{Photo: photo, View: w.view()})
		}
	}
	form.Observations = w.observations(form.Photos)
	return form
}

func (w *world) flies() bool { return w.group == otherGroup }

func (w *world) family() string {
	if w.flies() {
		return pick(w, "Syrphidae", "Syrphidae", "Tephritidae", "Tephritidae", "")
	}
	return pick(w, "Elateridae", "Elateridae", "Buprestidae", "Buprestidae", "Elateridae", "Drilidae", "Drilidae", "", "Nonsensidae")
}

func (w *world) view() string {
	if w.flies() {
		return "wing"
	}
	return pick(w, "antenna", "below")
}

func (w *world) label() review.Label {
	return review.Label{CatalogueNumber: pick(w, "AB-1", "ÄB_2%", "c 3", "d/4", "e.5", ""), Trip: pick(w, "", "Alps 2026"),
		StoragePlace: pick(w, "", "Drawer 7"), Sex: pick(w, "", "male", "female"), Count: w.dice.IntN(3)}
}

func (w *world) withheld() review.Withheld {
	if w.chance(0.5) {
		return review.Withheld{}
	}
	latitude, longitude := w.dice.Float64()*180-90, w.dice.Float64()*360-180
	return review.Withheld{VerbatimLabel: "Brünn, 3.v.1926, leg. Hand", Latitude: &latitude, Longitude: &longitude, Collector: "Hand"}
}

// statesOf are some states of a character.
type statesOf struct {
	character string
	states    []string
}

func (w *world) observations(photos []review.PhotoForm) []review.ObservationForm {
	var made []review.ObservationForm
	characters := []statesOf{{"antenna-form", []string{"filiform", "serrate", "clavate"}}, {"ventrites", []string{"5", "5", "5", "6"}}, {"length", []string{"12.5", "3"}}}
	if w.flies() {
		characters = []statesOf{{"wing-pattern", []string{"clear", "banded"}}}
	}
	for _, c := range characters {
		if w.chance(0.3) {
			continue
		}
		o := review.ObservationForm{Character: c.character, State: pick(w, c.states...), Sureness: pick(w, "", review.Sure, review.FairlySure, review.Unsure)}
		if len(photos) > 0 && w.chance(0.4) {
			o.Photo = pick(w, photos...).Photo
			o.Region = &review.Region{X: w.dice.Float64() / 2, Y: w.dice.Float64() / 2, W: w.dice.Float64()/2 + 0.001, H: 1.0 / 3}
		}
		made = append(made, o)
	}
	return made
}

func (w *world) review(a review.Actor, id string, v int) (service.Done, error) {
	s, err := w.stored(id)
	if err != nil {
		return service.Done{}, err
	}
	form := review.ReviewForm{}
	for _, cited := range s.Cites {
		if w.chance(0.7) {
			verdict := review.VerdictForm{Observation: cited, Kind: pick(w, review.VerdictConfirm, review.VerdictConfirm,
				review.VerdictConfirm, review.VerdictDispute, review.VerdictNotVisible, review.VerdictPartMissing, review.VerdictCannotJudge)}
			if verdict.Kind == review.VerdictDispute {
				verdict.Better = pick(w, "", "", "", "serrate", "5", "banded")
			}
			form.Verdicts = append(form.Verdicts, verdict)
		}
	}
	if w.chance(0.7) {
		form.Opinion = &review.OpinionForm{Kind: review.OpinionAgrees, Basis: pick(w, review.BasisPhotos, review.BasisSpecimen), Note: pick(w, "", "seen")}
		if w.chance(0.3) {
			form.Opinion.Kind, form.Opinion.Family = pick(w, review.OpinionAnother, review.OpinionLeftOpen), pick(w, "", "Buprestidae", "Tephritidae")
		}
	}
	return w.service.Review(w.Context(), a, id, v, form)
}

func (w *world) returnForm() review.ReturnForm {
	want := pick(w, review.WantPhoto, review.WantSpecimen, review.WantPreparation)
	form := review.ReturnForm{Want: want, Text: pick(w, "please", "please", "")}
	if want == review.WantPhoto {
		form.View = pick(w, w.view(), w.view(), "inside")
	}
	return form
}

func (w *world) answer(a review.Actor, id string, v int) (service.Done, error) {
	s, err := w.stored(id)
	if err != nil {
		return service.Done{}, err
	}
	form := review.AnswerForm{Text: pick(w, "", "here it is"), SentOn: pick(w, "", "", "", "2026-05-20", "soon")}
	if w.chance(0.5) {
		w.upload(a)
		form.Photos = []review.PhotoForm{{Photo: w.uploads[len(w.uploads)-1], View: w.view()}}
	}
	for _, cited := range s.Cites {
		if w.chance(0.15) {
			form.Withdraw = append(form.Withdraw, cited)
		}
	}
	if w.chance(0.3) {
		form.Observations = w.observations(form.Photos)
	}
	return w.service.Answer(w.Context(), a, id, v, form)
}

func (w *world) redetermine(a review.Actor, id string, v int) (service.Done, error) {
	return w.service.Redetermine(w.Context(), a, id, v, review.RedetermineForm{
		Family: w.family(), Reason: pick(w, "ventrites", "antenna", "")})
}

// reply gives a reason against a contradiction that stands, or against none.
func (w *world) reply(a review.Actor, id string, v int) (service.Done, error) {
	s, err := w.stored(id)
	if err != nil {
		return service.Done{}, err
	}
	form := review.ReplyForm{Kind: judgement.Excluded, Character: "ventrites", State: "6", Reason: pick(w, "a teneral one", "deformed", "")}
	if s.Assessment != nil && len(s.Assessment.Contradictions) > 0 {
		c := pick(w, s.Assessment.Contradictions...)
		form.Kind, form.Character, form.State = c.Kind, c.Character, c.State
	}
	return w.service.Reply(w.Context(), a, id, v, form)
}

func (w *world) correctLabel(a review.Actor, _ string, _ int) (service.Done, error) {
	_, err := w.service.CorrectLabel(w.Context(), a, w.specimen, service.AnyVersion, w.label(), w.withheld(), pick(w, "misread", ""))
	return service.Done{}, err
}

// setPolicy: thresholds of a half and one reviewer, so that submissions settle; everybody is an expert at times.
func (w *world) setPolicy(a review.Actor, _ string, _ int) (service.Done, error) {
	policy := review.Policy{Reviewers: pick(w, 1, 1, 2, 0), OneSuffices: w.chance(0.4), ReliabilityShown: pick(w, "", review.ShownTotals, review.ShownNames, "all"), Confidence: pick(w, 0.5, 0.6, 0.95), ExcludedNeedsReason: w.chance(0.5),
		HoldMinutes: pick(w, 5, 1440), HoldsAtOnce: 3, Reason: "made up", Experts: map[string][]string{},
		BlindRate: pick(w, 0, 0.25, 0.5), RecheckRate: pick(w, 0, 0.5, 0.5), Panel: pick(w, 3, 3, 3, 5, 4)}
	if w.chance(0.3) {
		policy.List = map[string]float64{"Elateridae": 3, "Tephritidae": 0.5}
	}
	for i := 2; i < len(w.people); i++ {
		for _, family := range []string{"Elateridae", "Syrphidae"} {
			policy.Experts[family] = append(policy.Experts[family], fmt.Sprintf("person-%d", i))
		}
	}
	_, err := w.service.SetPolicy(w.Context(), a, service.AnyVersion, policy)
	return service.Done{}, err
}

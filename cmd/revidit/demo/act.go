package demo

import (
	"bytes"
	"context"
	"fmt"

	"revidit/review"
	"revidit/review/service"
)

// act plays one specimen of the scenario.
type act struct {
	club   Club
	actors map[string]review.Actor
	drawn
	photos []review.PhotoForm
	id     string // submission
}

func (a *act) member() review.Actor { return a.actors[a.specimen.by] }

// told says whose act failed.
func (a *act) told(err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("demo: %s (%s, %s): %w", a.plan.number, a.specimen.family, a.specimen.then, err)
}

// begin drafts or submits the specimen.
func (a *act) begin(ctx context.Context) error {
	if a.err != nil {
		return a.err
	}
	form, err := a.form(ctx)
	if err != nil {
		return err
	}
	if a.specimen.then == asDraft {
		_, err := a.club.Service.Draft(ctx, a.member(), form, "")
		return err
	}
	submission, err := a.club.Service.SubmitNew(ctx, a.member(), form, "demo-"+a.plan.number)
	a.id = submission.ID
	return err
}

func (a *act) form(ctx context.Context) (review.SubmissionForm, error) {
	s, t := a.specimen, trips[a.specimen.trip]
	form := review.SubmissionForm{
		Label: review.Label{CatalogueNumber: a.plan.number, Country: t.country, Province: t.province, CollectedFrom: t.from,
			CollectedTo: t.to, Trip: t.name, Method: t.method, Habitat: t.habitat, Sex: s.sex, Stage: "adult", Count: 1,
			Preparation: "pinned", StoragePlace: "Cabinet 2, drawer " + s.drawer},
		Withheld: review.Withheld{
			VerbatimLabel: fmt.Sprintf("%s, %s\n%s\n%s leg. %s", t.country, t.province, t.locality, t.from, a.member().Name),
			Locality:      t.locality, Latitude: &t.latitude, Longitude: &t.longitude, ElevationM: &t.elevation,
			UncertaintyM: metres(250), Collector: a.member().Name},
		Family: s.family, ScientificName: s.genus, Remarks: s.remarks,
	}
	if s.proposed != "" {
		form.Family = s.proposed
	}
	if s.then == oldSlip {
		form.DeterminerName, form.DeterminedOn, form.Qualifier = "A. Quernholm sen.", "1961", ""
	}
	if s.missing() {
		form.Label.MissingParts = "both antennae, most legs"
	}
	if err := a.upload(ctx); err != nil {
		return form, err
	}
	form.Photos = a.photos
	for i, character := range a.plan.stated {
		form.Observations = append(form.Observations, a.observation(i, character))
	}
	return form, nil
}

func (s specimen) missing() bool { return s.then == undetermined }

func metres(m float64) *float64 { return &m }

func (a *act) upload(ctx context.Context) error {
	for _, p := range a.pictures {
		upload, _, err := a.club.Service.Upload(ctx, a.member(), bytes.NewReader(p.jpeg))
		if err != nil {
			return err
		}
		a.photos = append(a.photos, review.PhotoForm{Photo: upload.ID, View: p.view})
	}
	return nil
}

// observation is what the member records of a character: what the beetle shows, unless the scenario says misread.
func (a *act) observation(i int, character string) review.ObservationForm {
	o := review.ObservationForm{Character: character, State: a.plan.is[character], Sureness: review.Sure}
	if wrong, ok := a.specimen.misread[character]; ok {
		o.State, o.Sureness = wrong, review.FairlySure
	} else if wrong, ok := a.plan.misread[character]; ok {
		o.State = wrong
	} else if i%5 == 4 {
		o.Sureness = review.FairlySure
	}
	for p, picture := range a.pictures {
		if region, ok := picture.regions[character]; ok {
			o.Photo, o.Region = a.photos[p].Photo, &region
			break
		}
	}
	return o
}

type step func(a *act, ctx context.Context) error

var courses = map[course][]step{
	asDraft:      {},
	waiting:      {},
	lookedAt:     {agree("henrike")},
	held:         {hold("jonas")},
	confirmed:    {agree("henrike"), agree("jonas")},
	disputedOpen: {dispute("sabine")},
	returned:     {dispute("jonas"), sendBack("jonas", review.WantPhoto, "thorax-below", "Please show the underside between the fore legs: is there a free spine in a pit?")},
	loanReturned: {sendBack("sabine", review.WantSpecimen, "", "I need the beetle itself: please bring it to the October meeting, or send it as a loan.")},
	answered: {sendBack("henrike", review.WantPhoto, "thorax-below", "One more photo, please: the breast between the legs."),
		answerPhoto("thorax-below"), agree("henrike"), agree("sabine")},
	redetermined:     {dispute("jonas"), redetermine("jonas"), agree("henrike")},
	undetermined:     {leaveOpen("henrike")},
	withdrawn:        {withdraw},
	reopened:         {leaveOpen("henrike"), reopen},
	authority:        {dispute("sabine"), settle("henrike")},
	oldSlip:          {agree("jonas"), agree("henrike")},
	excludedReply:    {agree("henrike"), replyAll("henrike"), agree("jonas")},
	answeredByMentor: {mentorAnswers},
	withMentor:       {},
	surveyed:         {lookOver("henrike"), lookOver("jonas"), giveUp("sabine")},
	secondDesk:       {agree("jonas"), agree("sabine")},
}

// blindFirst lets a reviewer who is drawn look blind before a step.
func blindFirst(by string, then step) step {
	return func(a *act, ctx context.Context) error {
		look, err := a.club.Service.BlindLook(ctx, a.actors[by], a.id)
		switch {
		case review.KindOf(err) == review.KindConflict: // is not drawn
			return then(a, ctx)
		case err != nil:
			return err
		}
		form := review.BlindForm{State: a.plan.is[look.Character]}
		if _, err := a.club.Service.BlindCheck(ctx, a.actors[by], a.id, look.Version, form); err != nil {
			return err
		}
		return then(a, ctx)
	}
}

// verdicts confirm what is so and dispute what is not. Members and reviewers look at the same drawn beetle.
func (a *act) verdicts(ctx context.Context, by string) ([]review.VerdictForm, error) {
	view, err := a.club.Service.View(ctx, a.actors[by], a.id)
	if err != nil {
		return nil, err
	}
	var verdicts []review.VerdictForm
	for _, o := range view.Specimen.Observations {
		if o.Withdrawn != "" {
			continue
		}
		v := review.VerdictForm{Observation: o.ID, Kind: review.VerdictConfirm}
		switch truth := a.plan.is[o.Character]; {
		case o.Character == "body-length-mm":
			v.Kind = review.VerdictCannotJudge
		case truth != o.State:
			v.Kind, v.Better, v.Note = review.VerdictDispute, truth, "Look again at the marked place."
		}
		verdicts = append(verdicts, v)
	}
	return verdicts, nil
}

func agree(by string) step {
	return blindFirst(by, func(a *act, ctx context.Context) error {
		verdicts, err := a.verdicts(ctx, by)
		if err != nil {
			return err
		}
		opinion := &review.OpinionForm{Kind: review.OpinionAgrees, Basis: review.BasisPhotos}
		_, err = a.club.Service.Review(ctx, a.actors[by], a.id, service.AnyVersion, review.ReviewForm{Verdicts: verdicts, Opinion: opinion})
		return err
	})
}

// dispute gives verdicts, and another name where the proposed one is wrong.
func dispute(by string) step {
	return blindFirst(by, func(a *act, ctx context.Context) error {
		verdicts, err := a.verdicts(ctx, by)
		if err != nil {
			return err
		}
		opinion := &review.OpinionForm{Kind: review.OpinionLeftOpen, Basis: review.BasisPhotos}
		if a.specimen.proposed != "" {
			opinion = &review.OpinionForm{Kind: review.OpinionAnother, Family: a.specimen.family, Basis: review.BasisPhotos,
				Note: "The characters point to " + a.specimen.family + "."}
		}
		_, err = a.club.Service.Review(ctx, a.actors[by], a.id, service.AnyVersion, review.ReviewForm{Verdicts: verdicts, Opinion: opinion})
		return err
	})
}

// hold is taken at the end of the scenario's time, so that it is still running when somebody looks.
func hold(by string) step {
	return blindFirst(by, func(a *act, ctx context.Context) error {
		_, err := a.club.Service.Hold(ctx, a.actors[by], a.id, service.AnyVersion)
		return err
	})
}

func sendBack(by string, want review.Want, view, text string) step {
	return blindFirst(by, func(a *act, ctx context.Context) error {
		_, err := a.club.Service.Return(ctx, a.actors[by], a.id, service.AnyVersion, review.ReturnForm{Want: want, View: view, Text: text})
		return err
	})
}

func answerPhoto(view string) step {
	return func(a *act, ctx context.Context) error {
		made, err := drawView(len(a.plan.number), a.specimen, a.plan, view, a.club.size())
		if err != nil {
			return err
		}
		upload, _, err := a.club.Service.Upload(ctx, a.member(), bytes.NewReader(made.jpeg))
		if err != nil {
			return err
		}
		_, err = a.club.Service.Answer(ctx, a.member(), a.id, service.AnyVersion, review.AnswerForm{
			Text: "Here it is; I had to turn the beetle over.", Photos: []review.PhotoForm{{Photo: upload.ID, View: view}}})
		return err
	}
}

func redetermine(by string) step {
	return blindFirst(by, func(a *act, ctx context.Context) error {
		next, err := a.club.Service.Redetermine(ctx, a.actors[by], a.id, service.AnyVersion, review.RedetermineForm{
			Family: a.specimen.family, Reason: "The characters that were seen do not carry " + a.specimen.proposed + "."})
		a.id = next.ID
		return err
	})
}

func leaveOpen(by string) step {
	return blindFirst(by, func(a *act, ctx context.Context) error {
		_, err := a.club.Service.Undetermine(ctx, a.actors[by], a.id, service.AnyVersion, "Too little is left of it to tell the family.")
		return err
	})
}

func withdraw(a *act, ctx context.Context) error {
	_, err := a.club.Service.Withdraw(ctx, a.member(), a.id, service.AnyVersion, "Submitted twice by mistake.")
	return err
}

func reopen(a *act, ctx context.Context) error {
	_, err := a.club.Service.Reopen(ctx, a.actors["odile"], a.id, service.AnyVersion, "The label says another trip than the photo: please look again.")
	return err
}

func settle(by string) step {
	return blindFirst(by, func(a *act, ctx context.Context) error {
		_, err := a.club.Service.Settle(ctx, a.actors[by], a.id, service.AnyVersion, "Compared with named specimens in the section's collection.")
		return err
	})
}

// replyAll answers the contradictions that stop the settlement.
func replyAll(by string) step {
	return blindFirst(by, func(a *act, ctx context.Context) error {
		view, err := a.club.Service.View(ctx, a.member(), a.id)
		if err != nil {
			return err
		}
		for _, c := range view.Policy.Unanswered(&view.Submission) {
			reply := review.ReplyForm{Kind: c.Kind, Character: c.Character, State: c.State,
				Reason: "The count took a fold at the tip for a plate; the marked photo shows the right one."}
			if _, err := a.club.Service.Reply(ctx, a.actors[by], a.id, service.AnyVersion, reply); err != nil {
				return err
			}
		}
		return nil
	})
}

package review

import (
	"context"
	"errors"
	"slices"
)

// BlindView is all that somebody sees who is to look blind: no name, no stated state, no verdicts, flags or confidence.
type BlindView struct {
	Submission      string `json:"submission"`
	Version         int    `json:"version"`
	Group           string `json:"group"`
	Specimen        string `json:"specimen"`
	CatalogueNumber string `json:"catalogue_number"`
	// Recheck: the question is the family, as one of a panel on a closed determination; otherwise Character.
	Recheck   bool   `json:"recheck,omitempty"`
	Character string `json:"character,omitempty"`
	// Photos do not say who took them.
	Photos []Photo `json:"photos"`
	// Marked is the photo on which the place was seen, and stands first, with the rectangle where one was drawn.
	Marked string  `json:"marked,omitempty"`
	Region *Region `json:"region,omitempty"`
}

// hidden is an error where the actor is to look blind before anything is shown.
func (now *situation) hidden() error {
	look := now.submission.ID
	if onPanel(now.Actor, now.submission, now.siblings) {
		return &Error{Kind: KindBlind, Look: look, Message: "This determination is closed and was drawn to be looked at again by people who have not seen it. Name the family from the photos first, or leave the panel: then you see everything."}
	}
	if _, drawn := drawnBlind(now.Actor, now.submission, now.specimen, now.siblings, now.judge.Tables()); !drawn {
		return nil
	}
	if now.submission.Status == StatusReturned {
		return Errorf(KindBlind, "You are drawn to look at this submission blind, and it is with its owner at present. You can look when it comes back.")
	}
	return &Error{Kind: KindBlind, Look: look, Message: "You are drawn to look at one character of this submission before you see anything else of it. Answer that question first."}
}

// hiddenSpecimen is an error where the actor is to look blind at any submission of a specimen: each of them lists the
// names of all others. Where there are several, it leads to one that can be looked at now.
func (s *Service) hiddenSpecimen(ctx context.Context, actor Actor, spec *Specimen, submissions []Submission) error {
	if actor.Role != RoleReviewer {
		return nil
	}
	var waits error
	for i := range submissions {
		judge, err := s.Judge(ctx, submissions[i].Group)
		if err != nil {
			return err
		}
		now := &situation{Moment: s.moment(actor), submission: &submissions[i], specimen: spec, siblings: submissions, judge: judge}
		var hidden *Error
		switch err := now.hidden(); {
		case !errors.As(err, &hidden):
		case hidden.Look != "":
			return err
		default:
			waits = err
		}
	}
	return waits
}

// BlindLook is what the actor is to look at blind. It is a conflict where there is nothing of the kind.
func (s *Service) BlindLook(ctx context.Context, actor Actor, id string) (BlindView, error) {
	now, err := s.loadBlind(ctx, actor, id, AnyVersion)
	if err != nil {
		return BlindView{}, err
	}
	v := BlindView{Submission: id, Version: now.submission.Seq, Group: now.judge.Tables().Group.ID, Specimen: now.specimen.ID,
		CatalogueNumber: now.specimen.Label.CatalogueNumber, Photos: []Photo{}}
	for _, p := range now.specimen.Photos {
		if slices.Contains(now.submission.Photos, p.ID) {
			p.By = "" // who photographed it has nearly always determined it
			v.Photos = append(v.Photos, p)
		}
	}
	if onPanel(now.Actor, now.submission, now.siblings) {
		v.Recheck = true
		return v, nil
	}
	asked, err := now.asked()
	if err != nil {
		return BlindView{}, err
	}
	if now.submission.Status == StatusReturned {
		return BlindView{}, now.hidden()
	}
	v.Character, v.Marked, v.Region = asked.Character, asked.Photo, asked.Region
	if c, ok := now.judge.Tables().Character(asked.Character); ok {
		v.fittingFirst(c.Views)
	}
	return v, nil
}

// fittingFirst puts the marked photo first, then those in views that show the character.
func (v *BlindView) fittingFirst(views []string) {
	rank := func(p Photo) int {
		switch {
		case p.ID == v.Marked:
			return 0
		case slices.Contains(views, p.View):
			return 1
		}
		return 2
	}
	slices.SortStableFunc(v.Photos, func(a, b Photo) int { return rank(a) - rank(b) })
}

// asked is the observation that the actor is to look at blind now.
func (now *situation) asked() (Observation, error) {
	o, drawn := drawnBlind(now.Actor, now.submission, now.specimen, now.siblings, now.judge.Tables())
	if !drawn {
		return Observation{}, Errorf(KindConflict, "There is nothing here for you to look at blind. Nothing was stored.")
	}
	return o, nil
}

// BlindCheck saves what the actor sees who was drawn to look blind. From then on the submission is shown.
func (s *Service) BlindCheck(ctx context.Context, actor Actor, id string, version int, form BlindForm) (Submission, error) {
	now, err := s.loadBlind(ctx, actor, id, version)
	if err != nil {
		return Submission{}, err
	}
	return s.carryOut(ctx, now, func(now *situation) (decision, error) {
		asked, err := now.asked()
		if err != nil {
			return decision{}, err
		}
		return decideBlind(now.Moment, now.submission, asked, form, now.judge)
	})
}

// PanelOpinion saves the family that the actor names on the panel of a closed determination.
func (s *Service) PanelOpinion(ctx context.Context, actor Actor, id string, version int, form PanelForm) (Submission, error) {
	return s.panel(ctx, actor, id, version, func(now *situation) (decision, error) {
		return decidePanel(now.Moment, now.submission, form, now.judge.Tables())
	})
}

// LeavePanel shows the determination to the actor, who then no longer sits on its panel.
func (s *Service) LeavePanel(ctx context.Context, actor Actor, id string, version int) (Submission, error) {
	return s.panel(ctx, actor, id, version, func(now *situation) (decision, error) {
		return decideLeave(now.Moment, now.submission)
	})
}

func (s *Service) panel(ctx context.Context, actor Actor, id string, version int, decide func(*situation) (decision, error)) (Submission, error) {
	now, err := s.loadBlind(ctx, actor, id, version)
	if err != nil {
		return Submission{}, err
	}
	if !onPanel(now.Actor, now.submission, now.siblings) {
		return Submission{}, Errorf(KindConflict, "You do not sit on the panel of this determination: it is not being rechecked, or you have had to do with it. Nothing was stored.")
	}
	return s.carryOut(ctx, now, decide)
}

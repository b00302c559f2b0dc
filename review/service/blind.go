package service

import (
	"context"
	"errors"
	"slices"

	"revidit/review"
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
	Photos []review.Photo `json:"photos"`
	// Marked is the photo on which the place was seen, and stands first, with the rectangle where one was drawn.
	Marked string         `json:"marked,omitempty"`
	Region *review.Region `json:"region,omitempty"`
}

// hiddenSpecimen is an error where the actor is to look blind at any submission of a specimen: each of them lists the
// names of all others. Where there are several, it leads to one that can be looked at now.
func (s *Service) hiddenSpecimen(ctx context.Context, actor review.Actor, b *Basis) error {
	if !actor.LooksBlind() {
		return nil
	}
	var waits error
	for i := range b.Submissions {
		now, err := s.dossier(ctx, actor, b, b.Submissions[i].ID, "")
		if err != nil {
			return err
		}
		var hidden *review.Error
		switch err := now.Hidden(); {
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
func (s *Service) BlindLook(ctx context.Context, actor review.Actor, id string) (BlindView, error) {
	now, _, err := s.loadBlind(ctx, actor, id, AnyVersion)
	if err != nil {
		return BlindView{}, err
	}
	v := BlindView{Submission: id, Version: now.Version(), Group: now.Judge.Tables().Group.ID, Specimen: now.Specimen.ID,
		CatalogueNumber: now.Specimen.Label.CatalogueNumber, Photos: []review.Photo{}}
	for _, p := range now.Specimen.Photos {
		if slices.Contains(now.Submission.Photos, p.ID) && review.MaySeePhoto(actor, p, now.Specimen.Owner) {
			p.By = "" // who photographed it has nearly always determined it
			v.Photos = append(v.Photos, p)
		}
	}
	if now.OnPanel() {
		v.Recheck = true
		return v, nil
	}
	asked, err := now.Asked()
	if err != nil {
		return BlindView{}, err
	}
	if now.Submission.Status == review.StatusReturned {
		return BlindView{}, now.Hidden()
	}
	v.Character = asked.Character
	if slices.ContainsFunc(v.Photos, func(p review.Photo) bool { return p.ID == asked.Photo }) {
		v.Marked, v.Region = asked.Photo, asked.Region
	}
	if c, ok := now.Judge.Tables().Character(asked.Character); ok {
		v.fittingFirst(c.Views)
	}
	return v, nil
}

// fittingFirst puts the marked photo first, then those in views that show the character.
func (v *BlindView) fittingFirst(views []string) {
	rank := func(p review.Photo) int {
		switch {
		case p.ID == v.Marked:
			return 0
		case slices.Contains(views, p.View):
			return 1
		}
		return 2
	}
	slices.SortStableFunc(v.Photos, func(a, b review.Photo) int { return rank(a) - rank(b) })
}

// BlindCheck saves what the actor sees who was drawn to look blind. From then on the submission is shown.
func (s *Service) BlindCheck(ctx context.Context, actor review.Actor, id string, version int, form review.BlindForm) (Done, error) {
	return again(ctx, func() (Done, error) {
		now, _, err := s.loadBlind(ctx, actor, id, version)
		if err != nil {
			return Done{}, err
		}
		return s.carryOut(ctx, now, func(now *review.Dossier) (review.Decision, error) {
			asked, err := now.Asked()
			if err != nil {
				return review.Decision{}, err
			}
			return review.DecideBlind(now.Moment, now.Submission, asked, form, now.Judge)
		})
	})
}

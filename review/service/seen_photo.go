package service

import (
	"context"

	"revidit/review"
	"revidit/review/photo"
)

// SeenPhoto is a photo that is here already and is the same as one that has just come, or looks nearly so.
type SeenPhoto struct {
	Photo           string `json:"photo" doc:"Its id"`
	Specimen        string `json:"specimen,omitempty" doc:"The specimen that it shows; left out of one that the caller has uploaded and not submitted"`
	CatalogueNumber string `json:"catalogue_number,omitempty"`
	Same            bool   `json:"same" doc:"The same picture, bit for bit; else it looks nearly the same"`
}

// mostSeen is how many are told of.
const mostSeen = 3

// seenBefore are photos that are the same as a picture, or nearly, as far as the actor may see them: what is another's draft, sealed, or
// yet to be looked at blind is told of to nobody. It never keeps a photo from being stored: the same beetle may be photographed
// twice, and a photo may show two beetles.
func (s *Service) seenBefore(ctx context.Context, actor review.Actor, stored review.Upload, picture photo.Picture) ([]SeenPhoto, error) {
	found, err := s.store.SeenPhotos(ctx, picture.SHA256, string(picture.Look))
	if err != nil {
		return nil, err
	}
	var seen []SeenPhoto
	told := map[string]bool{}
	for _, u := range found {
		if u.ID == stored.ID || told[u.Specimen+" "+u.SHA256] || len(seen) == mostSeen {
			continue
		}
		line := SeenPhoto{Photo: u.ID, Specimen: u.Specimen, Same: u.SHA256 == picture.SHA256}
		if u.Specimen == "" && u.By != actor.Person {
			continue
		}
		if u.Specimen != "" {
			view, err := s.Specimen(ctx, actor, u.Specimen)
			if kind := review.KindOf(err); kind != "" && kind != review.KindDown { // not for this actor, not yet, or not to be read
				continue
			}
			if err != nil {
				return nil, err
			}
			if _, shown := view.Specimen.Photo(u.ID); !shown {
				continue
			}
			line.CatalogueNumber = view.Specimen.Label.CatalogueNumber
		}
		told[u.Specimen+" "+u.SHA256] = true
		seen = append(seen, line)
	}
	return seen, nil
}

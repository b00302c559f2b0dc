package demo

import (
	"context"
	"fmt"
	"slices"

	"revidit/review"
	"revidit/review/service"
)

// shownToAll is how many specimens the club shows to everybody.
const shownToAll = 2

// publish lets everybody see the photos of some specimens whose name is settled and on whose photos something is marked. All of it is
// drawn, so that nobody's rights are touched.
func (c Club) publish(ctx context.Context, curator review.Actor) error {
	lines, _, err := c.Service.Find(ctx, curator, service.SubmissionFilter{Status: review.StatusConfirmed}, service.Page{Size: 50})
	if err != nil {
		return err
	}
	made := 0
	for _, line := range lines {
		view, err := c.Service.Specimen(ctx, curator, line.Specimen)
		if err != nil {
			return err
		}
		photos := toShow(view)
		if made == shownToAll || len(photos) == 0 {
			continue
		}
		form := review.PublishForm{Photos: photos, Licence: review.LicenceBY, Holder: "Quernholm section, drawn by the program", Reason: "For the page that visitors of the section's website are sent to."}
		if _, err := c.Service.PublishPhotos(ctx, curator, line.Specimen, service.AnyVersion, form); err != nil {
			return fmt.Errorf("demo: publish %s: %w", line.CatalogueNumber, err)
		}
		made++
	}
	if made < shownToAll {
		return fmt.Errorf("demo: %d specimens could be published", made)
	}
	return nil
}

// toShow are the photos of a specimen but those of its labels; none where a name is still before reviewers, or nothing is marked.
func toShow(view service.SpecimenView) (photos []string) {
	waits := func(d service.DeterminationLine) bool {
		return d.Status == review.StatusOpen || d.Status == review.StatusReturned
	}
	if slices.ContainsFunc(view.Determinations, waits) {
		return nil
	}
	marked := false
	for _, p := range view.Specimen.Photos {
		if p.View == review.ViewOfLabels {
			continue
		}
		photos = append(photos, p.ID)
		marked = marked || slices.ContainsFunc(view.Specimen.Observations, func(o review.Observation) bool { return o.Photo == p.ID && o.Region != nil })
	}
	if !marked {
		return nil
	}
	return photos
}

package web

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review"
	"revidit/review/service"
)

type specimenOutput struct {
	Status int
	ETag   string `header:"ETag"`
	Body   service.SpecimenView
}

type dossierInput struct {
	Caller
	ID string `path:"id" maxLength:"60"`
}

type dossierOutput struct{ Body service.SpecimenDossier }

type labelInput struct {
	ChangeByID
	// Both parts are required: a part left out would be emptied.
	Body struct {
		Label    review.Label    `json:"label"`
		Withheld review.Withheld `json:"withheld"`
		Reason   string          `json:"reason" minLength:"1" maxLength:"2000"`
	}
}

func (a *api) registerSpecimens() {
	huma.Register(a.doors, hiding(reading("/specimens/{id}", "specimen", "specimens", "A specimen as the caller may see it", http.StatusNotFound)), a.specimen)
	huma.Register(a.doors, hiding(operation(http.MethodGet, "/specimens/{id}/dossier", "dossier", "specimens",
		"All that the caller may see of a specimen: label, slips, every determination with what was said of it, and its history with what proves it", http.StatusNotFound)), a.dossier)
	vouch := operation(http.MethodPost, "/specimens/{id}/vouching", "vouch", "specimens", "Vouch for a level of verification or a type status of a determination, as archives tell it",
		http.StatusForbidden, http.StatusNotFound, http.StatusConflict, http.StatusPreconditionFailed)
	changes[vouchInput](a, vouch, a.vouch, func(ctx context.Context, in *vouchInput, _ string) (*specimenOutput, error) {
		out, _, err := a.specimenView(ctx, &in.ByID)
		return out, err
	})
	publish := operation(http.MethodPost, "/specimens/{id}/publication", "publish-photos", "specimens", "Let everybody see photos of a specimen, without a login, under a licence; IIIF viewers read them at /iiif/specimens/{id}/manifest",
		http.StatusForbidden, http.StatusNotFound, http.StatusConflict, http.StatusPreconditionFailed)
	changes[publishPhotosInput](a, publish, a.publishPhotos, func(ctx context.Context, in *publishPhotosInput, _ string) (*specimenOutput, error) {
		out, _, err := a.specimenView(ctx, &in.ByID)
		return out, err
	})
	unpublish := operation(http.MethodPost, "/specimens/{id}/publication/end", "unpublish-photos", "specimens", "Take published photos back from the public",
		http.StatusForbidden, http.StatusNotFound, http.StatusConflict, http.StatusPreconditionFailed)
	changes[unpublishPhotosInput](a, unpublish, a.unpublishPhotos, func(ctx context.Context, in *unpublishPhotosInput, _ string) (*specimenOutput, error) {
		out, _, err := a.specimenView(ctx, &in.ByID)
		return out, err
	})
	changes[labelInput](a, hiding(operation(http.MethodPut, "/specimens/{id}/label", "correct-label", "specimens",
		"Replace the label data, with a reason; the former stay in the history", http.StatusForbidden, http.StatusNotFound,
		http.StatusConflict, http.StatusPreconditionFailed, http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType)), a.correctLabel,
		func(ctx context.Context, in *labelInput, _ string) (*specimenOutput, error) {
			out, _, err := a.specimenView(ctx, &in.ByID)
			return out, err
		})
}

func (a *api) dossier(ctx context.Context, in *dossierInput) (*dossierOutput, error) {
	d, err := a.Service.Dossier(ctx, in.actor, in.ID)
	if err != nil {
		return nil, err
	}
	for i := range d.Submissions {
		d.Submissions[i] = a.toldView(ctx, d.Submissions[i])
	}
	return &dossierOutput{Body: d}, nil
}

func (a *api) specimen(ctx context.Context, in *ByID) (*specimenOutput, error) {
	out, tag, err := a.specimenView(ctx, in)
	if err != nil {
		return nil, err
	}
	out.Status, err = in.reading(tag)
	return out, err
}

// specimenVersion is the version that a change of a specimen is held against, with the tags that name it.
func (a *api) specimenVersion(ctx context.Context, in *ByID) func() (int, []entityTag, error) {
	return func() (int, []entityTag, error) {
		out, tag, err := a.specimenView(ctx, in)
		if err != nil {
			return 0, nil, err
		}
		return out.Body.Specimen.Seq, []entityTag{tag, versionTag(out.Body.Specimen.Seq)}, nil
	}
}

func (a *api) correctLabel(ctx context.Context, in *labelInput) (*specimenOutput, error) {
	version, err := in.version(a.specimenVersion(ctx, &in.ByID))
	if err != nil {
		return nil, err
	}
	if _, err := a.Service.CorrectLabel(ctx, in.actor, in.ID, version, in.Body.Label, in.Body.Withheld, in.Body.Reason); err != nil {
		return nil, err
	}
	out, _, err := a.specimenView(ctx, &in.ByID)
	return out, err
}

func (a *api) vouch(ctx context.Context, in *vouchInput) (*specimenOutput, error) {
	version, err := in.version(a.specimenVersion(ctx, &in.ByID))
	if err != nil {
		return nil, err
	}
	if _, err := a.Service.Vouch(ctx, in.actor, in.ID, version, in.Body); err != nil {
		return nil, err
	}
	out, _, err := a.specimenView(ctx, &in.ByID)
	return out, err
}

func (a *api) specimenView(ctx context.Context, in *ByID) (*specimenOutput, entityTag, error) {
	view, err := a.Service.Specimen(ctx, in.actor, in.ID)
	if err != nil {
		return nil, entityTag{}, err
	}
	tag, err := viewTag(view.Specimen.Seq, view)
	return &specimenOutput{Status: http.StatusOK, ETag: tag.String(), Body: view}, tag, err
}

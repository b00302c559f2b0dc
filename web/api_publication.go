package web

import (
	"context"

	"revidit/review"
)

type publishPhotosInput struct {
	ByID
	Keyed
	Body review.PublishForm
}

type unpublishPhotosInput struct {
	ByID
	Keyed
	Body review.UnpublishForm
}

func (a *api) publishPhotos(ctx context.Context, in *publishPhotosInput) (*specimenOutput, error) {
	version, err := in.version(a.specimenVersion(ctx, &in.ByID))
	if err != nil {
		return nil, err
	}
	if _, err := a.Service.PublishPhotos(ctx, in.actor, in.ID, version, in.Body); err != nil {
		return nil, err
	}
	out, _, err := a.specimenView(ctx, &in.ByID)
	return out, err
}

func (a *api) unpublishPhotos(ctx context.Context, in *unpublishPhotosInput) (*specimenOutput, error) {
	version, err := in.version(a.specimenVersion(ctx, &in.ByID))
	if err != nil {
		return nil, err
	}
	if _, err := a.Service.UnpublishPhotos(ctx, in.actor, in.ID, version, in.Body); err != nil {
		return nil, err
	}
	out, _, err := a.specimenView(ctx, &in.ByID)
	return out, err
}

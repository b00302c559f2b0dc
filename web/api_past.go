package web

import (
	"context"
	"net/http"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review"
	"revidit/review/service"
)

type asOfInput struct {
	Caller
	ID       string `path:"id" maxLength:"60"`
	Position int64  `query:"position" minimum:"0" doc:"Position in the order of all events, as the events of the submission name it; 0: the last one"`
	Before   string `query:"before" maxLength:"40" doc:"In place of a position: a time (RFC 3339) or a day (UTC), for the last position before it"`
}

type asOfOutput struct{ Body service.Then }

type differenceInput struct {
	Caller
	ID   string `path:"id" maxLength:"60"`
	From int64  `query:"from" required:"true" minimum:"1" doc:"Position of one moment"`
	To   int64  `query:"to" minimum:"0" doc:"Position of the other; 0: the last one"`
}

type differenceOutput struct{ Body service.Difference }

func (a *api) registerPast() {
	const tag = "submissions"
	o := hiding(operation(http.MethodGet, "/submissions/{id}/as-of", "submission-as-of", tag, "A submission as it stood at a moment, as far as the caller may see it today", http.StatusNotFound))
	o.Description = "The assessment is computed again from the stored versions of tables, policy, reliability and method; where it is not equal to twelve digits to what was stored then, it is what was stored, and remade.why says why. " +
		"What is sealed from the caller today is left out of the past as well."
	huma.Register(a.doors, o, a.asOf)
	huma.Register(a.doors, hiding(operation(http.MethodGet, "/submissions/{id}/difference", "submission-difference", tag,
		"A submission at two moments, the earlier first, and what is another thing at the latter", http.StatusNotFound)), a.difference)
}

func (a *api) asOf(ctx context.Context, in *asOfInput) (*asOfOutput, error) {
	when := service.When{Position: in.Position}
	if in.Before != "" {
		before, err := timeOrDay(in.Before)
		if err != nil {
			return nil, err
		}
		when = service.When{Before: before}
	}
	then, err := a.Service.AsOf(ctx, in.actor, in.ID, when)
	if err != nil {
		return nil, err
	}
	return &asOfOutput{Body: a.toldThen(ctx, then)}, nil
}

// timeOrDay is a time, or the beginning of a day (UTC).
func timeOrDay(text string) (time.Time, error) {
	for _, layout := range []string{time.RFC3339, time.DateOnly} {
		if t, err := time.Parse(layout, text); err == nil {
			return t, nil
		}
	}
	return time.Time{}, review.Invalidf("before", "must be a day like 2026-05-14 or a time like 2026-05-14T09:30:00Z")
}

func (a *api) difference(ctx context.Context, in *differenceInput) (*differenceOutput, error) {
	d, err := a.Service.Between(ctx, in.actor, in.ID, service.When{Position: in.From}, service.When{Position: in.To})
	if err != nil {
		return nil, err
	}
	return &differenceOutput{Body: a.toldDifference(ctx, d)}, nil
}

package web

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review"
	"revidit/review/service"
)

type seriesListOutput struct{ Body service.SeriesLists }

type seriesOutput struct {
	Status int
	Body   service.SeriesView
}

type seriesSeenOutput struct{ Body service.SeriesSeen }

// OnSeries is a request about a series.
type OnSeries struct {
	Caller
	ID string `path:"id" maxLength:"60"`
}

// ChangeSeries is a request that changes one.
type ChangeSeries struct {
	OnSeries
	Keyed
}

type beginSeriesInput struct {
	Caller
	Keyed
}

type mentorInput struct {
	ChangeSeries
	Body struct {
		Mentor string `json:"mentor,omitempty" maxLength:"60" doc:"Person; empty: the caller. Curators give it to others, too"`
	}
}

type endSeriesInput struct {
	ChangeSeries
	Body review.SeriesForm
}

func (a *api) registerSeries() {
	const tag, at = "series", "/series/{id}"
	huma.Register(a.doors, operation(http.MethodGet, "/series", "find-series", tag, "A beginner's first fifty with a mentor: the caller's own, those mentored, and for reviewers those that wait"), a.findSeries)
	begin := operation(http.MethodPost, "/series", "begin-series", tag, "Ask for a mentor for one's first fifty submissions", http.StatusForbidden, http.StatusConflict)
	begin.DefaultStatus = http.StatusCreated
	begin.Description = "What the caller submits from the time on at which somebody has taken it up, names of the caller's own on new specimens, goes to that mentor, up to fifty: no number of voices, no least confidence, nobody looks blind, and no scores are shown to the caller."
	changes[beginSeriesInput](a, begin, a.beginSeries, func(ctx context.Context, in *beginSeriesInput, made string) (*seriesOutput, error) {
		return a.seriesIs(ctx, in.actor, made, http.StatusCreated)
	})
	huma.Register(a.doors, operation(http.MethodGet, at, "series", tag, "A series that the caller has to do with", http.StatusNotFound), a.series)
	huma.Register(a.doors, operation(http.MethodGet, at+"/seen", "series-seen", tag, "What the mentor's answers tell, of which the message is made", http.StatusForbidden, http.StatusNotFound), a.seriesSeen)
	seriesChange(a, "/mentor", "mentor-series", "Take it up, or hand it over as a curator", func(ctx context.Context, in *mentorInput) error {
		_, err := a.Service.MentorSeries(ctx, in.actor, in.ID, in.Body.Mentor)
		return err
	}, func(in *mentorInput) *OnSeries { return &in.OnSeries })
	seriesChange(a, "/giving-back", "give-back-series", "Give it back, as its mentor", func(ctx context.Context, in *ChangeSeries) error {
		_, err := a.Service.GiveBackSeries(ctx, in.actor, in.ID)
		return err
	}, func(in *ChangeSeries) *OnSeries { return &in.OnSeries })
	seriesChange(a, "/leaving", "leave-series", "Go on without a mentor", func(ctx context.Context, in *ChangeSeries) error {
		_, err := a.Service.LeaveSeries(ctx, in.actor, in.ID)
		return err
	}, func(in *ChangeSeries) *OnSeries { return &in.OnSeries })
	seriesChange(a, "/end", "end-series", "End it with the mentor's message", func(ctx context.Context, in *endSeriesInput) error {
		_, err := a.Service.EndSeries(ctx, in.actor, in.ID, in.Body)
		return err
	}, func(in *endSeriesInput) *OnSeries { return &in.OnSeries })
}

// seriesChange registers an act on a series, answered with the series as it is then.
func seriesChange[In any, P keyedInput[In]](a *api, below, id, summary string, do func(context.Context, *In) error, on func(*In) *OnSeries) {
	o := operation(http.MethodPost, "/series/{id}"+below, id, "series", summary, http.StatusForbidden, http.StatusNotFound, http.StatusConflict,
		http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType)
	changes[In, seriesOutput, P](a, o, func(ctx context.Context, in *In) (*seriesOutput, error) {
		if err := do(ctx, in); err != nil {
			return nil, err
		}
		return a.seriesIs(ctx, on(in).actor, on(in).ID, http.StatusOK)
	}, func(ctx context.Context, in *In, _ string) (*seriesOutput, error) {
		return a.seriesIs(ctx, on(in).actor, on(in).ID, http.StatusOK)
	})
}

func (a *api) findSeries(ctx context.Context, in *callerInput) (*seriesListOutput, error) {
	l, err := a.Service.FindSeries(ctx, in.actor)
	return &seriesListOutput{Body: l}, err
}

func (a *api) series(ctx context.Context, in *OnSeries) (*seriesOutput, error) {
	return a.seriesIs(ctx, in.actor, in.ID, http.StatusOK)
}

func (a *api) seriesSeen(ctx context.Context, in *OnSeries) (*seriesSeenOutput, error) {
	seen, err := a.Service.SeriesSeen(ctx, in.actor, in.ID)
	return &seriesSeenOutput{Body: seen}, err
}

func (a *api) beginSeries(ctx context.Context, in *beginSeriesInput) (*seriesOutput, error) {
	made, err := a.Service.BeginSeries(ctx, in.actor)
	if err != nil {
		return nil, err
	}
	return a.seriesIs(ctx, in.actor, made.ID, http.StatusCreated)
}

func (a *api) seriesIs(ctx context.Context, actor review.Actor, id string, status int) (*seriesOutput, error) {
	v, err := a.Service.Series(ctx, actor, id)
	return &seriesOutput{Status: status, Body: v}, err
}

package web

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review/service"
	"revidit/web/pages"
)

type settledInput struct {
	Caller
	From string `query:"from" maxLength:"10" doc:"First day, such as 2026-01-01 (UTC)"`
	To   string `query:"to" maxLength:"10" doc:"Last day (UTC)"`
	By   string `query:"by" default:"family" enum:"family,person,drawer"`
}

type settledOutput struct{ Body service.SettledReport }

type yearInput struct {
	Caller
	OfGroup
	Year int `query:"year" minimum:"0" maximum:"9998" doc:"0, or none: the present one"`
}

type yearOutput struct{ Body service.YearReport }

func (a *api) registerReports() {
	const tag = "reports"
	settled := operation(http.MethodGet, "/reports/determinations", "report-determinations", tag, "What was settled between two days, by family, person or drawer", http.StatusForbidden)
	settled.Description = "Determinations that stand confirmed or undetermined at the end of the period and did not at its beginning, each with the lowest rank that is sure. " +
		"Of a period with more than 2000 closings the latest are told of; cut says so, and since from when on the report is whole."
	huma.Register(a.doors, settled, a.settled)
	year := operation(http.MethodGet, "/reports/year", "report-year", tag, "A section's year: what came and was settled, families, who took part, agreement and calibration", http.StatusForbidden, http.StatusNotFound)
	year.Description = "Years are of UTC. From events and from what acts of the year have left: of a year that is over nothing changes any more."
	huma.Register(a.doors, year, a.year)
}

func (a *api) settled(ctx context.Context, in *settledInput) (*settledOutput, error) {
	period, err := InPeriod{From: in.From, To: in.To}.period()
	if err != nil {
		return nil, err
	}
	r, err := a.Service.Settled(ctx, in.actor, service.SettledBy(in.By), period)
	return &settledOutput{Body: r}, err
}

func (a *api) year(ctx context.Context, in *yearInput) (*yearOutput, error) {
	r, err := a.Service.Year(ctx, in.actor, in.Group, in.Year)
	r.Agreement = pages.AgreementInWords(ctx, r.Agreement)
	return &yearOutput{Body: r}, err
}

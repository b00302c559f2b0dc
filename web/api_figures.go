package web

import (
	"context"
	"net/http"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review"
	"revidit/review/audit"
	"revidit/web/pages"
)

type agreementOutput struct {
	Body struct {
		audit.Agreement
		Names map[string]string `json:"names" doc:"Of the persons in pairs, by id"`
	}
}

type calibrationOutput struct{ Body audit.Calibration }

// InPeriod bounds what figures rest on. It is exported because huma looks into exported parts only.
type InPeriod struct {
	From string `query:"from" maxLength:"10" doc:"First day, such as 2026-01-01 (UTC). With a period figures rest on what acts in it have left, which no later act changes"`
	To   string `query:"to" maxLength:"10" doc:"Last day (UTC)"`
}

func (p InPeriod) period() (review.Period, error) { return review.ParsePeriod(p.From, p.To) }

type figuresInput struct {
	Caller
	OfGroup
	InPeriod
}

type reliabilityInput struct {
	Caller
	OfGroup
	Version int `query:"version" default:"-1" minimum:"-1" maximum:"1000000000" doc:"Version of the snapshot; -1, or none: the present one"`
}

type reliabilityOutput struct{ Body audit.ReliabilityFigures }

func (a *api) registerFigures() {
	const tag = "figures"
	agreement := operation(http.MethodGet, "/figures/agreement", "agreement", tag, "How far people agree, by character, region and pair", http.StatusForbidden, http.StatusNotFound)
	agreement.Description = "From specimens of which all submissions are closed. A unit is a character of a specimen, a rating the state that a person holds to be true. " +
		"Blind looks and verdicts on something shown are never mixed: the latter are anchored and agree too well. " +
		"Krippendorff's alpha (Krippendorff 2011), Fleiss' kappa (Fleiss 1971), Cohen's kappa (Cohen 1960, weighted 1968); the test for shared departures is our own."
	huma.Register(a.doors, agreement, a.agreement)
	calibration := operation(http.MethodGet, "/figures/calibration", "calibration", tag, "What was claimed against what blind panels found", http.StatusForbidden, http.StatusNotFound)
	calibration.Description = "The truth is what more than half of a complete panel named that knew nothing of the determination, never our own settlement. Probabilities are from 0 to 1, the log score is in natural units. " +
		"Brier (1950) with the parts of Murphy (1973), log score (Good 1952), expected calibration error over 15 bins of equal numbers (Naeini, Cooper and Hauskrecht 2015)."
	huma.Register(a.doors, calibration, a.calibration)
	changes[anewInput](a, operation(http.MethodPost, "/figures/anew", "figures-anew", tag, "Ask for agreement or calibration to be made anew; reading them tells how far that has come",
		http.StatusForbidden, http.StatusNotFound), a.figuresAnew, func(context.Context, *anewInput, string) (*struct{}, error) { return nil, nil })
	huma.Register(a.doors, operation(http.MethodGet, "/figures/work", "work", tag, "What is done behind acts: how far it has come, and what went wrong last", http.StatusForbidden), a.work)
	reliability := operation(http.MethodGet, "/figures/reliability", "reliability", tag, "What is known of people: of everybody to curators, otherwise of the caller", http.StatusNotFound)
	reliability.Description = "Accuracies by region of the body and anchoring, by expectation and maximisation after Dawid and Skene (1979) with priors from the role. All are probabilities from 0 to 1."
	huma.Register(a.doors, reliability, a.reliability)
	changes[refitInput](a, operation(http.MethodPost, "/figures/reliability/refit", "refit", tag, "Weigh all reports on closed specimens together, as the next snapshot",
		http.StatusForbidden, http.StatusNotFound, http.StatusConflict), a.refit,
		func(ctx context.Context, in *refitInput, _ string) (*reliabilityOutput, error) {
			return a.presentReliability(ctx, in)
		})
}

func (a *api) agreement(ctx context.Context, in *figuresInput) (*agreementOutput, error) {
	period, err := in.period()
	if err != nil {
		return nil, err
	}
	made, names, err := a.Service.Agreement(ctx, in.actor, in.Group, period)
	if err != nil {
		return nil, err
	}
	out := &agreementOutput{}
	out.Body.Agreement, out.Body.Names = pages.AgreementInWords(ctx, made), names
	return out, nil
}

func (a *api) calibration(ctx context.Context, in *figuresInput) (*calibrationOutput, error) {
	period, err := in.period()
	if err != nil {
		return nil, err
	}
	made, err := a.Service.Calibration(ctx, in.actor, in.Group, period)
	if err != nil {
		return nil, err
	}
	return &calibrationOutput{Body: made}, nil
}

func (a *api) reliability(ctx context.Context, in *reliabilityInput) (*reliabilityOutput, error) {
	read := a.Service.Reliability
	if in.Version >= 0 {
		read = func(ctx context.Context, actor review.Actor, group string) (review.Reliability, map[string]string, error) {
			return a.Service.ReliabilityAt(ctx, actor, group, in.Version)
		}
	}
	r, names, err := read(ctx, in.actor, in.Group)
	if err != nil {
		return nil, err
	}
	return a.reliabilityFigures(ctx, r, names)
}

func (a *api) reliabilityFigures(ctx context.Context, r review.Reliability, names map[string]string) (*reliabilityOutput, error) {
	tables, err := a.tables(ctx, r.Group)
	if err != nil {
		return nil, err
	}
	return &reliabilityOutput{Body: audit.FiguresOf(r, names, tables)}, nil
}

type refitInput struct {
	Caller
	OfGroup
	Keyed
}

func (a *api) refit(ctx context.Context, in *refitInput) (*reliabilityOutput, error) {
	if _, err := a.Service.Refit(ctx, in.actor, in.Group); err != nil {
		return nil, err
	}
	return a.presentReliability(ctx, in)
}

func (a *api) presentReliability(ctx context.Context, in *refitInput) (*reliabilityOutput, error) {
	r, names, err := a.Service.Reliability(ctx, in.actor, in.Group)
	if err != nil {
		return nil, err
	}
	return a.reliabilityFigures(ctx, r, names)
}

type anewInput struct {
	Caller
	Keyed
	OfGroup
	InPeriod
	Which string `query:"which" required:"true" enum:"agreement,calibration"`
}

func (a *api) figuresAnew(ctx context.Context, in *anewInput) (*struct{}, error) {
	period, err := in.period()
	if err != nil {
		return nil, err
	}
	return nil, a.Service.FiguresAnew(ctx, in.actor, in.Group, period, review.FoundKind(in.Which))
}

type workOutput struct {
	Body struct {
		Jobs    []jobLine       `json:"jobs" nullable:"false"`
		Checked *review.Checked `json:"checked,omitempty" doc:"What the last check of the database has found; missing where there was none. parts are tables, 0 where the database sees to itself; remade are assessments of past moments that came out again as they were stored, kept those that could not be computed again, otherwise those that came out otherwise"`
	}
}

// jobLine is a job in the list of what is done behind acts.
type jobLine struct {
	Kind       string     `json:"kind"`
	Key        string     `json:"key" doc:"Of what: a group of tables, or a group and what else tells two such jobs apart"`
	Status     string     `json:"status" enum:"waiting,running,done,failed"`
	Done       int        `json:"done"`
	Total      int        `json:"total" doc:"0 where it is not known"`
	Error      string     `json:"error,omitempty" doc:"What went wrong last"`
	AskedAt    time.Time  `json:"asked_at"`
	UpdatedAt  time.Time  `json:"updated_at"`
	FinishedAt *time.Time `json:"finished_at,omitempty"`
}

func (a *api) work(ctx context.Context, in *Caller) (*workOutput, error) {
	list, err := a.Service.Jobs(ctx, in.actor)
	if err != nil {
		return nil, err
	}
	checked, err := a.Service.Checked(ctx, in.actor)
	out := &workOutput{}
	if !checked.At.IsZero() {
		told := pages.CheckedInWords(ctx, checked)
		out.Body.Checked = &told
	}
	out.Body.Jobs = []jobLine{}
	for _, p := range list {
		out.Body.Jobs = append(out.Body.Jobs, jobLine{Kind: string(p.Kind), Key: p.Key, Status: string(p.Status), Done: p.Done, Total: p.Total,
			Error: p.Error, AskedAt: p.AskedAt, UpdatedAt: p.UpdatedAt, FinishedAt: p.FinishedAt})
	}
	return out, err
}

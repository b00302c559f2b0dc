package web

import (
	"context"
	"net/http"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review"
	"revidit/review/service"
)

type reassessmentsInput struct {
	Caller
	InGroup
}

type reassessmentsOutput struct {
	Body struct {
		Items []review.Reassessment `json:"items" nullable:"false" doc:"The latest first, at most 50"`
	}
}

// InReassessment is the reassessment that an address names.
type InReassessment struct {
	Which string `path:"key" maxLength:"64" doc:"Key of the reassessment"`
}

type reassessmentInput struct {
	Caller
	InGroup
	InReassessment
}

type reassessmentOutput struct {
	Location string `header:"Location"`
	Body     struct {
		review.Reassessment
		Names map[string]string `json:"names" doc:"Of the persons among the causes, by id"`
	}
}

type askReassessmentInput struct {
	Caller
	Keyed
	InGroup
	Body struct {
		Release     string  `json:"release,omitempty" maxLength:"64" doc:"Version or hash of a release that was published here, or approved: with the approved changes. Empty: the tables in force"`
		Policy      *int    `json:"policy,omitempty" minimum:"0" maximum:"1000000000" doc:"Version of a policy; left out: the one in force"`
		Confidence  float64 `json:"confidence,omitempty" minimum:"0.5" maximum:"0.999" doc:"Least confidence in place of the policy's"`
		Reliability *int    `json:"reliability,omitempty" minimum:"0" maximum:"1000000000" doc:"Version of the reliability; left out: the present one"`
	}
}

type touchedInput struct {
	Caller
	InGroup
	InReassessment
	Effect string `query:"effect" required:"true" enum:"new-contradiction,contradiction-gone,below-confidence,no-such-family"`
	Cause  string `query:"cause" required:"true" maxLength:"300" doc:"Parts of the cause with | between them, the kind first: cell|Carabidae|antenna-form, person|||ID"`
	After  string `query:"after" maxLength:"60" doc:"The submission behind which to go on"`
}

// TouchedView is a settled determination that a change would touch.
type TouchedView struct {
	Submission      string        `json:"submission"`
	CatalogueNumber string        `json:"catalogue_number"`
	Family          string        `json:"family"`
	Status          review.Status `json:"status"`
	Before          float64       `json:"before" doc:"Confidence, 0 to 1"`
	After           float64       `json:"after" doc:"Confidence, 0 to 1"`
	Contradictions  []string      `json:"contradictions" nullable:"false" doc:"Those that come or go: kind, character, state"`
	Opened          bool          `json:"opened" doc:"A review was opened for this"`
}

type touchedOutput struct {
	Body struct {
		Items []TouchedView `json:"items" nullable:"false"`
		Next  string        `json:"next,omitempty" doc:"Where to go on; left out at the end"`
	}
}

type openReviewsInput struct {
	Caller
	Keyed
	InGroup
	InReassessment
	Body struct {
		Groups []struct {
			Effect string `json:"effect" enum:"new-contradiction,contradiction-gone,below-confidence,no-such-family"`
			Cause  string `json:"cause" maxLength:"300" doc:"As in the list of those touched"`
		} `json:"groups,omitempty" maxItems:"200" doc:"Whole groups"`
		Submissions []string `json:"submissions,omitempty" maxItems:"500" doc:"Single determinations"`
		Reason      string   `json:"reason" minLength:"1" maxLength:"2000" doc:"It stands in the history of each"`
	}
}

// registerReassessments adds what a change would do to all that is settled.
func (a *api) registerReassessments() {
	const at, tag = "/groups/{group}/reassessments", "tables"
	huma.Register(a.doors, operation(http.MethodGet, at, "reassessments", tag, "What was asked of changes, and found", http.StatusForbidden, http.StatusNotFound), a.reassessments)
	huma.Register(a.doors, operation(http.MethodGet, at+"/{key}", "reassessment", tag, "What a change would do to all that is settled, by cause", http.StatusForbidden, http.StatusNotFound), a.reassessment)
	huma.Register(a.doors, operation(http.MethodGet, at+"/{key}/touched", "touched", tag, "Determinations that a change would touch in one way for one cause", http.StatusForbidden, http.StatusNotFound), a.touched)
	ask := operation(http.MethodPost, at, "reassess", tag, "Ask what another release, policy or reliability would do to all that is settled; reading it tells how far that has come",
		http.StatusForbidden, http.StatusNotFound, http.StatusConflict)
	ask.DefaultStatus = http.StatusCreated
	changes[askReassessmentInput](a, ask, a.askReassessment, func(ctx context.Context, in *askReassessmentInput, _ string) (*reassessmentOutput, error) {
		return a.askReassessment(ctx, in) // asking twice is asking once
	})
	pick := operation(http.MethodPost, at+"/{key}/reviews", "open-reviews", tag, "Open reviews of what is picked from a reassessment, each once",
		http.StatusForbidden, http.StatusNotFound, http.StatusConflict)
	pick.DefaultStatus = http.StatusNoContent
	changes[openReviewsInput](a, pick, a.openReviews, func(context.Context, *openReviewsInput, string) (*struct{}, error) { return nil, nil })
}

func (a *api) reassessments(ctx context.Context, in *reassessmentsInput) (*reassessmentsOutput, error) {
	all, err := a.Service.Reassessments(ctx, in.actor, in.Group)
	if err != nil {
		return nil, err
	}
	out := &reassessmentsOutput{}
	out.Body.Items = append([]review.Reassessment{}, all...)
	return out, nil
}

func (a *api) reassessment(ctx context.Context, in *reassessmentInput) (*reassessmentOutput, error) {
	r, err := a.Service.Reassessment(ctx, in.actor, in.Group, in.Which)
	if err != nil {
		return nil, err
	}
	out := &reassessmentOutput{}
	out.Body.Reassessment = r
	out.Body.Names, err = a.Service.NamesOf(ctx, r)
	return out, err
}

func (a *api) askReassessment(ctx context.Context, in *askReassessmentInput) (*reassessmentOutput, error) {
	key, err := a.Service.AskReassessment(ctx, in.actor, service.ReassessmentForm{Group: in.Group, Release: in.Body.Release, Policy: in.Body.Policy,
		Confidence: in.Body.Confidence, Reliability: in.Body.Reliability})
	if err != nil {
		return nil, unfit(err)
	}
	out, err := a.reassessment(ctx, &reassessmentInput{Caller: in.Caller, InGroup: in.InGroup, InReassessment: InReassessment{Which: key}})
	if err == nil {
		out.Location = apiPrefix + "/groups/" + in.Group + "/reassessments/" + key
	}
	return out, err
}

func (a *api) touched(ctx context.Context, in *touchedInput) (*touchedOutput, error) {
	lines, next, err := a.Service.Touched(ctx, in.actor, in.Group, in.Which, review.TouchGroup{Effect: review.Touch(in.Effect), Cause: in.Cause}, in.After)
	if err != nil {
		return nil, err
	}
	out := &touchedOutput{}
	out.Body.Items, out.Body.Next = []TouchedView{}, next
	for _, l := range lines {
		v := TouchedView{Submission: l.Submission, CatalogueNumber: l.CatalogueNumber, Family: l.Family, Status: l.Status, Before: l.Before, After: l.After, Contradictions: []string{}, Opened: l.Opened}
		for _, d := range l.Details() {
			v.Contradictions = append(v.Contradictions, strings.Join(d[:], " "))
		}
		out.Body.Items = append(out.Body.Items, v)
	}
	return out, nil
}

func (a *api) openReviews(ctx context.Context, in *openReviewsInput) (*struct{}, error) {
	p := service.Picking{Reason: in.Body.Reason, Submissions: in.Body.Submissions}
	for _, g := range in.Body.Groups {
		p.Groups = append(p.Groups, review.TouchGroup{Effect: review.Touch(g.Effect), Cause: g.Cause})
	}
	return nil, a.Service.OpenReviews(ctx, in.actor, in.Group, in.Which, p)
}

package web

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
)

type labelsInput struct {
	Caller
	Set      string   `query:"set" required:"true" enum:"locality,slips,catalogue" doc:"Which labels"`
	Specimen []string `query:"specimen,explode" required:"true" maxItems:"300" doc:"Ids of specimens, each once; the order is that of the sheet"`
	Size     string   `query:"size" maxLength:"20" doc:"Size of a label in millimetres, such as 18x7; empty: the usual one"`
	Paper    string   `query:"paper" maxLength:"20" doc:"a4 or letter; empty: a4"`
}

type labelsOutput struct{ Body service.LabelPlan }

type printInput struct {
	Caller
	Keyed
	Body review.SheetOrder
}

type sheetInput struct {
	Caller
	ID string `path:"id" maxLength:"60"`
}

type sheetOutput struct {
	Status   int
	Location string `header:"Location"`
	Body     service.SheetView
}

type sheetsOutput struct {
	Body struct {
		Items []review.Sheet    `json:"items" nullable:"false"`
		Names map[string]string `json:"names"`
	}
}

func (a *api) registerLabels(group *gin.RouterGroup) {
	const tag = "labels"
	huma.Register(a.doors, operation(http.MethodGet, "/labels", "plan-labels", tag, "What would be printed for the pins of specimens: lines, what is shortened, what was printed before", http.StatusForbidden), a.planLabels)
	order := operation(http.MethodPost, "/sheets", "print-labels", tag, "Note that labels are printed, and get their sheet", http.StatusForbidden, http.StatusConflict, http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType)
	order.DefaultStatus = http.StatusCreated
	order.Description = "A label that was printed before is refused unless the order says how often, as the plan does: nobody prints one twice without being told."
	changes[printInput](a, order, a.printLabels, func(ctx context.Context, in *printInput, made string) (*sheetOutput, error) {
		return a.sheetIs(ctx, in.actor, made, http.StatusCreated)
	})
	huma.Register(a.doors, operation(http.MethodGet, "/sheets", "find-sheets", tag, "Sheets of labels that were printed, the latest 50 first: of the caller, for curators of everybody"), a.findSheets)
	huma.Register(a.doors, operation(http.MethodGet, "/sheets/{id}", "sheet", tag, "A sheet of labels that was printed", http.StatusNotFound), a.sheet)

	group.GET("/sheets/:id/pdf", a.sheetFile)
	read := operation(http.MethodGet, "/sheets/{id}/pdf", "sheet-pdf", tag, "A sheet of labels as PDF, as it was printed")
	read.Parameters = []*huma.Param{{Name: "id", In: "path", Required: true, Schema: &huma.Schema{Type: huma.TypeString}}}
	read.Responses = a.problemResponses(401, 403, 404, 500, 503)
	read.Responses["200"] = &huma.Response{Description: "OK", Content: map[string]*huma.MediaType{"application/pdf": {Schema: &huma.Schema{Type: huma.TypeString, Format: "binary"}}}}
	a.doors.OpenAPI().AddOperation(&read)
}

func (a *api) planLabels(ctx context.Context, in *labelsInput) (*labelsOutput, error) {
	plan, err := a.Service.PlanLabels(ctx, in.actor, service.LabelAsk{Set: service.LabelSet(in.Set), Specimens: in.Specimen, SheetForm: review.SheetForm{Size: in.Size, Paper: in.Paper}})
	return &labelsOutput{Body: plan}, err
}

func (a *api) printLabels(ctx context.Context, in *printInput) (*sheetOutput, error) {
	made, err := a.Service.PrintLabels(ctx, in.actor, in.Body)
	if err != nil {
		return nil, err
	}
	return a.sheetIs(ctx, in.actor, made.ID, http.StatusCreated)
}

func (a *api) findSheets(ctx context.Context, in *callerInput) (*sheetsOutput, error) {
	out := &sheetsOutput{}
	var err error
	out.Body.Items, out.Body.Names, err = a.Service.Sheets(ctx, in.actor)
	return out, err
}

func (a *api) sheet(ctx context.Context, in *sheetInput) (*sheetOutput, error) {
	return a.sheetIs(ctx, in.actor, in.ID, http.StatusOK)
}

func (a *api) sheetIs(ctx context.Context, actor review.Actor, id string, status int) (*sheetOutput, error) {
	v, err := a.Service.Sheet(ctx, actor, id)
	if err != nil {
		return nil, err
	}
	out := &sheetOutput{Status: status, Body: v}
	if status == http.StatusCreated {
		out.Location = apiPrefix + "/sheets/" + v.ID
	}
	return out, nil
}

func (a *api) sheetFile(c *gin.Context) {
	if a.somebody(c) {
		a.sendSheet(c, a.fail)
	}
}

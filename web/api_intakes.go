package web

import (
	"context"
	"fmt"
	"mime"
	"net/http"
	"reflect"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
)

type intakesOutput struct {
	Body struct {
		Items []review.Intake `json:"items" nullable:"false" doc:"The latest first, at most 100"`
	}
}

type handoversOutput struct {
	Body struct {
		Items []HandoverView `json:"items" nullable:"false" doc:"The latest first, at most 1000"`
	}
}

// InIntake is the intake that an address names.
type InIntake struct {
	Intake string `path:"intake" maxLength:"60" doc:"Id of the intake"`
}

type intakeInput struct {
	Caller
	InIntake
	Faulty bool `query:"faulty" doc:"Only rows of which something is told"`
	After  int  `query:"after" minimum:"0" doc:"Number of the row behind which to go on"`
}

type intakeOutput struct{ Body service.IntakeView }

type acceptIntakeInput struct {
	Caller
	Keyed
	InIntake
	Plan int `query:"plan" minimum:"0" doc:"The plan that was seen; 0: whichever it is"`
}

type readAgainInput struct {
	Caller
	Keyed
	InIntake
	Body review.InventoryReading
}

type undoIntakeInput struct {
	Caller
	Keyed
	InIntake
	Body struct {
		Reason string `json:"reason" minLength:"1" maxLength:"2000"`
	}
}

type vouchInput struct {
	ByID
	Keyed
	Body review.VouchForm
}

// registerArchive adds what leaves the house as an archive, and what comes in from one.
func (a *api) registerArchive(group *gin.RouterGroup) {
	const tag = "archive"
	group.GET("/archive", a.handOver)
	o := operation(http.MethodGet, "/archive", "archive", tag, "A Darwin Core archive of the collection, places as coarse as the policy has it")
	for _, p := range []struct {
		name, doc string
		required  bool
	}{{"title", "Title of the whole", true}, {"organization", "Who hands it over", true}, {"license", "IRI of the licence: CC0 1.0, CC BY 4.0 or CC BY-NC 4.0", true}, {"contact", "E-mail address for questions", false},
		{"rights_holder", "Who holds the rights", false}, {"institution", "dwc:institutionCode", false}, {"collection", "dwc:collectionCode", false}, {"collectors", "yes: name collectors", false},
		{"media", "yes: describe photos and their regions", false}, {"unsettled", "yes: also specimens of which no name is settled", false}} {
		o.Parameters = append(o.Parameters, &huma.Param{Name: p.name, In: "query", Required: p.required, Description: p.doc, Schema: &huma.Schema{Type: huma.TypeString}})
	}
	o.Responses = a.problemResponses(400, 401, 403, 500, 503)
	binary := map[string]*huma.MediaType{archiveMedia: {Schema: &huma.Schema{Type: huma.TypeString, Format: "binary"}}}
	o.Responses["200"] = &huma.Response{Description: "OK", Content: binary}
	a.doors.OpenAPI().AddOperation(&o)

	huma.Register(a.doors, operation(http.MethodGet, "/handovers", "handovers", tag, "Archives that were handed over: when, by whom and with which digest", http.StatusForbidden), a.handovers)

	const at = "/intakes"
	group.POST(at, a.sendIntake)
	send := operation(http.MethodPost, at, "plan-intake", tag, "Tell what the Darwin Core archive or the table of an old collection in the body would bring; nothing of it is taken in before it is accepted")
	send.Parameters = []*huma.Param{keyParameter(), {Name: "name", In: "query", Description: "Name of the file", Schema: &huma.Schema{Type: huma.TypeString}}}
	sent := map[string]*huma.MediaType{}
	for _, media := range []string{archiveMedia, csvMedia, workbookMedia} {
		sent[media] = binary[archiveMedia]
	}
	send.RequestBody = &huma.RequestBody{Required: true, Content: sent}
	send.Responses = a.problemResponses(400, 401, 403, 409, 413, 415, 429, 500, 503)
	send.Responses["201"] = &huma.Response{Description: "Created", Content: map[string]*huma.MediaType{
		"application/json": {Schema: a.doors.OpenAPI().Components.Schemas.Schema(reflect.TypeFor[review.Intake](), true, "Intake")}}}
	a.doors.OpenAPI().AddOperation(&send)

	huma.Register(a.doors, operation(http.MethodGet, at, "intakes", tag, "Files of others that were read, and what has become of them", http.StatusForbidden), a.intakes)
	huma.Register(a.doors, operation(http.MethodGet, at+"/{intake}", "intake", tag, "What a file would bring, or has brought, row by row", http.StatusForbidden, http.StatusNotFound), a.intake)
	accept := operation(http.MethodPost, at+"/{intake}/accept", "accept-intake", tag, "Take in what was planned; reading it tells how far that has come", http.StatusForbidden, http.StatusNotFound, http.StatusConflict)
	changes[acceptIntakeInput](a, accept, a.acceptIntake, func(ctx context.Context, in *acceptIntakeInput, _ string) (*intakeOutput, error) {
		return a.intake(ctx, &intakeInput{Caller: in.Caller, InIntake: in.InIntake})
	})
	read := operation(http.MethodPost, at+"/{intake}/reading", "read-intake-again", tag, "Plan the table of an old collection anew, read as the body says", http.StatusForbidden, http.StatusNotFound, http.StatusConflict)
	changes[readAgainInput](a, read, a.readAgain, func(ctx context.Context, in *readAgainInput, _ string) (*intakeOutput, error) {
		return a.intake(ctx, &intakeInput{Caller: in.Caller, InIntake: in.InIntake})
	})
	undo := operation(http.MethodPost, at+"/{intake}/undo", "undo-intake", tag, "Take back what an intake has brought, but for what something was done with since", http.StatusForbidden, http.StatusNotFound, http.StatusConflict)
	changes[undoIntakeInput](a, undo, a.undoIntake, func(ctx context.Context, in *undoIntakeInput, _ string) (*intakeOutput, error) {
		return a.intake(ctx, &intakeInput{Caller: in.Caller, InIntake: in.InIntake})
	})
}

func (a *api) handovers(ctx context.Context, in *callerInput) (*handoversOutput, error) {
	made, names, err := a.Service.Handovers(ctx, in.actor)
	out := &handoversOutput{}
	out.Body.Items = handoverLines(made, names)
	return out, err
}

func (a *api) intakes(ctx context.Context, in *callerInput) (*intakesOutput, error) {
	all, err := a.Service.Intakes(ctx, in.actor)
	out := &intakesOutput{}
	out.Body.Items = append([]review.Intake{}, all...)
	return out, err
}

func (a *api) intake(ctx context.Context, in *intakeInput) (*intakeOutput, error) {
	v, err := a.Service.Intake(ctx, in.actor, in.Intake, in.Faulty, in.After)
	return &intakeOutput{Body: v}, err
}

func (a *api) acceptIntake(ctx context.Context, in *acceptIntakeInput) (*intakeOutput, error) {
	if _, err := a.Service.AcceptIntake(ctx, in.actor, in.Intake, in.Plan); err != nil {
		return nil, err
	}
	return a.intake(ctx, &intakeInput{Caller: in.Caller, InIntake: in.InIntake})
}

func (a *api) readAgain(ctx context.Context, in *readAgainInput) (*intakeOutput, error) {
	if _, err := a.Service.ReadAgain(service.Unhurried(ctx), in.actor, in.Intake, &in.Body); err != nil {
		return nil, err
	}
	return a.intake(ctx, &intakeInput{Caller: in.Caller, InIntake: in.InIntake})
}

func (a *api) undoIntake(ctx context.Context, in *undoIntakeInput) (*intakeOutput, error) {
	if _, err := a.Service.UndoIntake(ctx, in.actor, in.Intake, in.Body.Reason); err != nil {
		return nil, err
	}
	return a.intake(ctx, &intakeInput{Caller: in.Caller, InIntake: in.InIntake})
}

func (a *api) handOver(c *gin.Context) {
	if !a.somebody(c) {
		return
	}
	if err := a.sendArchive(c, archiveOptions(c)); err != nil {
		a.fail(c, err)
	}
}

// Media types of tables.
const (
	csvMedia      = "text/csv"
	workbookMedia = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
)

func isTable(media string) bool { return media == csvMedia || media == workbookMedia }

// sendIntake stands on gin, so that the file of somebody who may take nothing in is not even read.
func (a *api) sendIntake(c *gin.Context) {
	if !a.somebody(c) {
		return
	}
	made, err := a.sentIntake(c)
	if err != nil {
		a.fail(c, err)
		return
	}
	c.Header("Location", apiPrefix+"/intakes/"+made.ID)
	c.JSON(http.StatusCreated, made)
}

func (a *api) sentIntake(c *gin.Context) (made review.Intake, err error) {
	actor := actorOf(c)
	if !review.May(actor, review.ActTakeIn, "") {
		return made, review.Forbidden(actor, review.ActTakeIn, "")
	}
	media, _, err := mime.ParseMediaType(c.GetHeader("Content-Type"))
	if err != nil || media != archiveMedia && !isTable(media) {
		return made, problemf(http.StatusUnsupportedMediaType, "The body must be an archive or a table (Content-Type: %s, %s or %s). Nothing was taken in.", archiveMedia, csvMedia, workbookMedia)
	}
	file, err := receiveFile(c.Request.Body, service.MostIntake)
	if err != nil {
		return made, err
	}
	defer func() {
		if failed := file.close(); err == nil && failed != nil {
			err = fmt.Errorf("remove a file: %w", failed)
		}
	}()
	sum, err := sumOf(file)
	if err != nil {
		return made, err
	}
	asked := struct{ Intake, Name, Media string }{sum, c.Query("name"), media}
	before, err := a.Service.Once(c.Request.Context(), actor, c.GetHeader(idempotencyHeader), asked, func(ctx context.Context) (err error) {
		sent := service.IntakeFile{Name: c.Query("name"), From: file, Size: file.size}
		if isTable(media) {
			made, err = a.Service.PlanInventory(service.Unhurried(ctx), actor, sent, nil)
			return err
		}
		made, err = a.Service.PlanArchive(service.Unhurried(ctx), actor, sent)
		return err
	})
	if err == nil && before != "" {
		v, err := a.Service.Intake(c.Request.Context(), actor, before, true, 0)
		return v.Intake, err
	}
	return made, err
}

package web

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review/service"
)

type logOutput struct{ Body service.LogView }

type proofInput struct {
	Caller
	ID     string `path:"id" maxLength:"60"`
	Stream string `query:"stream" required:"true" maxLength:"200" doc:"Stream of the event, as the events of the submission name it"`
	Seq    int    `query:"seq" required:"true" minimum:"1" doc:"Number of the event in its stream"`
}

type proofOutput struct {
	Body struct {
		Proof string `json:"proof" doc:"Event, hashes and checkpoint in one text (c2sp.org/tlog-proof), which revidit verify checks offline"`
	}
}

func (a *api) registerProof() {
	const tag = "figures"
	huma.Register(a.doors, operation(http.MethodGet, "/proof", "proof", tag, "What was signed of the history last, by which key, and where it goes", http.StatusForbidden), a.log)
	o := hiding(operation(http.MethodGet, "/submissions/{id}/proof", "prove-event", tag, "Proof that an event stands in the history as it was signed", http.StatusForbidden, http.StatusNotFound))
	o.Description = "The event stands in it whole, so that none is proved of which anything is closed to the caller. One that no checkpoint covers yet is not found: one is signed within the hour."
	huma.Register(a.doors, o, a.prove)
}

func (a *api) log(ctx context.Context, in *callerInput) (*logOutput, error) {
	v, err := a.Service.Log(ctx, in.actor)
	return &logOutput{Body: v}, err
}

func (a *api) prove(ctx context.Context, in *proofInput) (*proofOutput, error) {
	out := &proofOutput{}
	var err error
	out.Body.Proof, err = a.Service.ProveEvent(ctx, in.actor, in.ID, in.Stream, in.Seq)
	return out, err
}

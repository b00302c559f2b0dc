package web

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"revidit/auth"
)

type machinesOutput struct {
	Body struct {
		Items []auth.MachineToken `json:"items" nullable:"false"`
	}
}

type giveTokenInput struct {
	Caller
	Body auth.MachineForm
}

// GivenToken is a token with its secret, which is told this once.
type GivenToken struct {
	auth.MachineToken
	Secret string `json:"secret" doc:"To be sent as Authorization: Bearer. It is shown this once and stored nowhere"`
}

type givenTokenOutput struct {
	CacheControl string `header:"Cache-Control"`
	Body         GivenToken
}

type revokeTokenInput struct {
	Caller
	ID     string `path:"id" maxLength:"60"`
	Reason string `query:"reason" required:"true" minLength:"1" maxLength:"2000" doc:"Why; kept in the history"`
}

type nameFamiliesInput struct {
	Caller
	ID   string `path:"id" maxLength:"60"`
	Body FamiliesForm
}

// FamiliesForm names a reviewer for families.
type FamiliesForm struct {
	Families []string `json:"families" maxItems:"40" nullable:"false" doc:"Families as the tables have them; none: all"`
	Reason   string   `json:"reason" minLength:"1" maxLength:"2000"`
}

func (a *api) registerMachines() {
	const tag, at = "machines", "/machines"
	list := operation(http.MethodGet, at, "machines", tag, "Tokens of machines, the latest first", http.StatusForbidden)
	huma.Register(a.doors, list, a.machines)
	give := operation(http.MethodPost, at, "give-machine-token", tag, "Give a token to a machine, a new one or one that is there", http.StatusForbidden, http.StatusNotFound,
		http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType)
	give.DefaultStatus = http.StatusCreated
	give.Description = "A machine is a program that acts for itself, under its own name. Its scopes are read, submit, export and print; it never reviews or decides. A request that is sent twice makes two tokens: revoke the one that got lost."
	huma.Register(a.doors, give, a.giveToken)
	revoke := operation(http.MethodDelete, at+"/tokens/{id}", "revoke-machine-token", tag, "Revoke a token of a machine", http.StatusForbidden, http.StatusNotFound)
	revoke.DefaultStatus = http.StatusNoContent
	huma.Register(a.doors, revoke, a.revokeToken)
	families := operation(http.MethodPut, "/people/{id}/families", "name-reviewer", "people", "Name a reviewer for some families, or for all again", http.StatusForbidden, http.StatusNotFound,
		http.StatusConflict, http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType)
	families.DefaultStatus = http.StatusNoContent
	families.Description = "Such a reviewer has a queue of these families alone, reviews nothing else, and looks at nothing blind, since the queue itself would tell the name."
	huma.Register(a.doors, families, a.nameReviewer)
}

func (a *api) machines(ctx context.Context, in *callerInput) (*machinesOutput, error) {
	tokens, err := a.Accounts.MachineTokens(ctx, in.actor)
	out := &machinesOutput{}
	out.Body.Items = orEmpty(tokens)
	return out, err
}

func (a *api) giveToken(ctx context.Context, in *giveTokenInput) (*givenTokenOutput, error) {
	secret, token, err := a.Accounts.GiveMachineToken(ctx, in.actor, in.Body)
	return &givenTokenOutput{CacheControl: "no-store", Body: GivenToken{token, secret}}, err
}

func (a *api) revokeToken(ctx context.Context, in *revokeTokenInput) (*struct{}, error) {
	return nil, a.Accounts.RevokeMachineToken(ctx, in.actor, in.ID, in.Reason)
}

func (a *api) nameReviewer(ctx context.Context, in *nameFamiliesInput) (*struct{}, error) {
	return nil, a.setFamilies(ctx, in.actor, in.ID, in.Body)
}

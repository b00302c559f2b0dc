package web

import (
	"context"
	"log/slog"
	"net/http"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"revidit/auth"
	"revidit/review"
	"revidit/review/service"
)

type loginInput struct {
	Caller
	Body struct {
		Login    string `json:"login" minLength:"1" maxLength:"200"`
		Password string `json:"password" minLength:"1" maxLength:"1000"`
		Code     string `json:"code,omitempty" maxLength:"40" doc:"A one-time code, or a recovery code, of an account that asks for a second factor"`
	}
}

// Session is a login of a program.
type Session struct {
	Token            string        `json:"token" doc:"To be sent as Authorization: Bearer; good for a quarter of an hour"`
	ExpiresAt        time.Time     `json:"expires_at"`
	RefreshToken     string        `json:"refresh_token" doc:"For POST /sessions/refresh, once: the answer brings the next one. One that is used a second time ends the login"`
	RefreshExpiresAt time.Time     `json:"refresh_expires_at" doc:"When the login ends, however often it was refreshed"`
	Person           review.Person `json:"person"`
}

type refreshInput struct {
	Caller
	Body struct {
		RefreshToken string `json:"refresh_token" minLength:"1" maxLength:"100"`
	}
}

type loginOutput struct {
	CacheControl string `header:"Cache-Control"`
	Body         Session
}

type callerInput struct{ Caller }

type peopleInput struct {
	Caller
	Name string `query:"name" maxLength:"120" doc:"What the name, or a later word of it, begins with"`
}

type personOutput struct{ Body review.Person }

type peopleOutput struct {
	Body struct {
		Items []review.Person `json:"items" nullable:"false"`
	}
}

type loggedOutOutput struct {
	ClearSiteData string `header:"Clear-Site-Data" doc:"What a browser forgets of this site"`
}

func (a *api) registerSessions() {
	login := operation(http.MethodPost, "/sessions", "log-in", "login", "Log in", http.StatusRequestEntityTooLarge,
		http.StatusUnsupportedMediaType, http.StatusTooManyRequests)
	login.Security, login.DefaultStatus, login.MaxBodyBytes = nil, http.StatusCreated, 16<<10
	huma.Register(a.doors, login, a.logIn)
	refresh := operation(http.MethodPost, "/sessions/refresh", "refresh", "login", "The next token for a refresh token", http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType)
	refresh.Security, refresh.DefaultStatus, refresh.MaxBodyBytes = nil, http.StatusCreated, 16<<10
	refresh.Description = "401 where the token is none, has run out, or was used before. The last ends the login and all its tokens, since two have had it; the log of the server tells."
	huma.Register(a.doors, refresh, a.refresh)
	logout := operation(http.MethodDelete, "/sessions", "log-out", "login", "End all logins of the caller, on every device")
	logout.DefaultStatus = http.StatusNoContent
	huma.Register(a.doors, logout, a.logOut)
	huma.Register(a.doors, operation(http.MethodGet, "/me", "me", "login", "Who the caller is"), a.me)
	huma.Register(a.doors, operation(http.MethodGet, "/people", "people", "people", "The first fifty with an account, by name"), a.people)
}

func (a *api) logIn(ctx context.Context, in *loginInput) (*loginOutput, error) {
	pair, err := a.Accounts.LoginProgram(ctx, in.Body.Login, in.Body.Password, in.Body.Code, auth.Client{Address: in.address})
	return sessionOf(pair, err)
}

func (a *api) refresh(ctx context.Context, in *refreshInput) (*loginOutput, error) {
	pair, err := a.Accounts.Refresh(ctx, in.Body.RefreshToken, in.address)
	return sessionOf(pair, err)
}

func sessionOf(p auth.Pair, err error) (*loginOutput, error) {
	if err != nil {
		return nil, err
	}
	return &loginOutput{CacheControl: "no-store", Body: Session{Token: p.Access, ExpiresAt: p.AccessUntil, RefreshToken: p.Refresh,
		RefreshExpiresAt: p.RefreshUntil, Person: personOf(p.Actor)}}, nil
}

func personOf(actor review.Actor) review.Person {
	return review.Person{ID: actor.Person, Name: actor.Name, Role: actor.Role, Families: actor.Families.Names()}
}

func (a *api) logOut(ctx context.Context, in *callerInput) (*loggedOutOutput, error) {
	if err := a.Accounts.LogoutEverywhere(ctx, in.actor.Person); err != nil {
		return nil, err
	}
	a.security(slog.LevelInfo, "logged out everywhere", in.login, in.address, "")
	return &loggedOutOutput{ClearSiteData: clearsAtLogout}, nil
}

func (a *api) me(_ context.Context, in *callerInput) (*personOutput, error) {
	return &personOutput{Body: personOf(in.actor)}, nil
}

func (a *api) people(ctx context.Context, in *peopleInput) (*peopleOutput, error) {
	people, err := a.Service.People(ctx, service.PeopleFilter{Name: in.Name})
	out := &peopleOutput{}
	out.Body.Items = orEmpty(people)
	return out, err
}

// orEmpty is a list that JSON writes as [] and never as null.
func orEmpty[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

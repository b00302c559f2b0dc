package web

import (
	"context"
	"net/http"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"revidit/auth"
	"revidit/review"
)

// LoginSession is a login as its person, or who keeps accounts, sees it.
type LoginSession struct {
	ID        string    `json:"id"`
	Began     time.Time `json:"began"`
	Seen      time.Time `json:"seen" doc:"When it was used last, give or take five minutes"`
	ExpiresAt time.Time `json:"expires_at" doc:"When it ends at the latest; it ends sooner where it is not used"`
	Browser   string    `json:"browser,omitempty" doc:"A browser and a system, as far as it said so itself; missing: a program"`
	This      bool      `json:"this" doc:"By which this is read"`
}

// AccountView is the account of a person, to who keeps accounts.
type AccountView struct {
	Person    review.Person `json:"person"`
	Login     string        `json:"login"`
	Suspended bool          `json:"suspended"`
	CreatedAt time.Time     `json:"created_at"`
	// SecondFactor: the password alone lets the person not in.
	SecondFactor bool           `json:"second_factor" doc:"A second factor is asked for beside the password"`
	SeenAt       *time.Time     `json:"seen_at,omitempty" doc:"When a login of it was used last, give or take five minutes"`
	Families     []string       `json:"families" nullable:"false" doc:"For which the policy names the person"`
	Sessions     []LoginSession `json:"sessions" nullable:"false"`
	Held         []string       `json:"held" nullable:"false" doc:"Ids of submissions that the person holds"`
}

// HandedOver is something to be handed over to a person.
type HandedOver struct {
	Link      string    `json:"link,omitempty" doc:"Shown this once; missing where it is sent by mail"`
	ExpiresAt time.Time `json:"expires_at"`
	ID        string    `json:"id,omitempty" doc:"Of the invitation"`
}

type (
	sessionsOutput struct {
		Body struct {
			Items []LoginSession `json:"items" nullable:"false"`
		}
	}
	sessionInput struct {
		Caller
		ID string `path:"id" maxLength:"60"`
	}
	passwordInput struct {
		Caller
		Body struct {
			Present  string `json:"present" minLength:"1" maxLength:"1000" doc:"The password that is in force"`
			Password string `json:"password" minLength:"1" maxLength:"1000"`
		}
	}
	invitationsOutput struct {
		Body struct {
			Items []review.AccountLink `json:"items" nullable:"false"`
		}
	}
	inviteInput struct {
		Caller
		Body auth.InvitationForm
	}
	invitationInput struct {
		Caller
		Keyed
		ID string `path:"invitation" maxLength:"60"`
	}
	invitationOf struct {
		Caller
		ID string `path:"invitation" maxLength:"60"`
	}
	handedOverOutput struct {
		CacheControl string `header:"Cache-Control"`
		Body         HandedOver
	}
	accountInput struct {
		Caller
		ID string `path:"id" maxLength:"60"`
	}
	accountOutput struct{ Body AccountView }
	accountAct    struct {
		Caller
		Keyed
		ID   string `path:"id" maxLength:"60"`
		Body struct {
			Reason string `json:"reason" minLength:"1" maxLength:"2000" doc:"Kept in the history for ever: without the person's name"`
		}
	}
	roleInput struct {
		Caller
		Keyed
		ID   string `path:"id" maxLength:"60"`
		Body struct {
			Role   review.Role `json:"role" enum:"member,keeper,reviewer,curator"`
			Reason string      `json:"reason" minLength:"1" maxLength:"2000"`
		}
	}
	passInput struct {
		Caller
		Keyed
		ID   string `path:"id" maxLength:"60"`
		Body PassForm
	}
	accountKeyed struct {
		Caller
		Keyed
		ID string `path:"id" maxLength:"60"`
	}
	erasureInput struct {
		Caller
		Keyed
		ID   string `path:"id" maxLength:"60"`
		Body struct {
			Login  string `json:"login" minLength:"1" maxLength:"60" doc:"Of the account, to say that this one is meant"`
			Reason string `json:"reason" minLength:"1" maxLength:"2000"`
		}
	}
	noContent struct{}
)

// registerAccounts adds what somebody does with the own login, and who keeps accounts with those of others. What shows a link takes no
// idempotency key: the token is stored nowhere, so that it could not be answered again.
func (a *api) registerAccounts() {
	huma.Register(a.doors, operation(http.MethodGet, "/me/sessions", "own-sessions", "login", "Where the caller is logged in"), a.ownSessions)
	ending := operation(http.MethodDelete, "/me/sessions/{id}", "end-session", "login", "End one login of the caller", http.StatusNotFound)
	ending.DefaultStatus = http.StatusNoContent
	huma.Register(a.doors, ending, a.endSession)
	password := operation(http.MethodPut, "/me/password", "set-password", "login", "Set another password; all other logins of the caller end")
	password.DefaultStatus, password.MaxBodyBytes = http.StatusNoContent, 16<<10
	huma.Register(a.doors, password, a.setPassword)

	const tag = "accounts"
	huma.Register(a.doors, operation(http.MethodGet, "/invitations", "invitations", tag, "Who is invited, the latest first", http.StatusForbidden), a.invitations)
	invite := operation(http.MethodPost, "/invitations", "invite", tag, "Invite somebody: the link is sent by mail or shown this once", http.StatusForbidden)
	invite.DefaultStatus = http.StatusCreated
	huma.Register(a.doors, invite, a.invite)
	huma.Register(a.doors, operation(http.MethodPost, "/invitations/{invitation}/link", "renew-invitation", tag, "A new link of an invitation, shown this once; the former one ends", http.StatusForbidden, http.StatusNotFound),
		a.renewInvitation)
	back := operation(http.MethodPost, "/invitations/{invitation}/taking-back", "take-back-invitation", tag, "Take an invitation back", http.StatusForbidden, http.StatusNotFound)
	actOnAccount(a, back, func(ctx context.Context, in *invitationInput) error {
		return a.Accounts.TakeBackInvitation(ctx, in.actor, in.ID)
	})

	huma.Register(a.doors, operation(http.MethodGet, "/people/{id}/account", "account", tag, "The account of a person", http.StatusForbidden, http.StatusNotFound), a.account)
	act := func(path, id, summary string) huma.Operation {
		return operation(http.MethodPost, "/people/{id}/account/"+path, id, tag, summary, http.StatusForbidden, http.StatusNotFound)
	}
	actOnAccount(a, act("suspension", "suspend", "End all logins of a person and refuse new ones"), func(ctx context.Context, in *accountAct) error {
		return a.Accounts.Suspend(ctx, in.actor, in.ID, in.Body.Reason)
	})
	actOnAccount(a, act("readmission", "readmit", "Let a suspended person log in again"), func(ctx context.Context, in *accountAct) error {
		return a.Accounts.Readmit(ctx, in.actor, in.ID, in.Body.Reason)
	})
	actOnAccount(a, act("logins-end", "end-sessions-of", "End all logins of a person"), func(ctx context.Context, in *accountAct) error {
		return a.Accounts.EndSessionsOf(ctx, in.actor, in.ID, in.Body.Reason)
	})
	actOnAccount(a, act("second-factor-removal", "remove-second-factor", "Remove all second factors of a person who has lost them"), func(ctx context.Context, in *accountAct) error {
		return a.Accounts.RemoveFactorsOf(ctx, in.actor, in.ID, in.Body.Reason)
	})
	actOnAccount(a, act("museum-login-removal", "remove-museum-login", "Take the museum's login off the account of a person, who is told; the last way in stays"), func(ctx context.Context, in *accountAct) error {
		return a.Accounts.TakeProviderOff(ctx, in.actor, in.ID, in.Body.Reason)
	})
	actOnAccount(a, act("role", "change-role", "Give a person another role"), func(ctx context.Context, in *roleInput) error {
		return a.Accounts.ChangeRole(ctx, in.actor, in.ID, in.Body.Role, in.Body.Reason)
	})
	actOnAccount(a, act("holds-end", "end-holds-of", "End all holds of a person, so that others may look"), func(ctx context.Context, in *accountKeyed) error {
		return a.Service.EndHoldsOf(ctx, in.actor, in.ID)
	})
	actOnAccount(a, act("holds-passing", "pass-holds-of", "Pass work that a person holds on to somebody who may review it: all that is named, or nothing"), func(ctx context.Context, in *passInput) error {
		return a.passHolds(ctx, in.actor, in.ID, in.Body)
	})
	actOnAccount(a, act("erasure", "erase-person", "Erase name, login, address and drafts of a person for good; what they have done stays"), func(ctx context.Context, in *erasureInput) error {
		return a.Accounts.ErasePerson(ctx, in.actor, in.ID, in.Body.Login, in.Body.Reason)
	})
	huma.Register(a.doors, act("link", "reset-link", "A link by which a person sets another password, shown this once"), a.resetLink)
}

// actOnAccount registers an operation that answers nothing.
func actOnAccount[In any, P keyedInput[In]](a *api, o huma.Operation, do func(context.Context, *In) error) {
	o.DefaultStatus = http.StatusNoContent
	changes[In, noContent, P](a, o, func(ctx context.Context, in *In) (*noContent, error) { return nil, do(ctx, in) },
		func(context.Context, *In, string) (*noContent, error) { return nil, nil })
}

func sessionViews(sessions []auth.Session, this string) []LoginSession {
	views := []LoginSession{}
	for _, s := range sessions {
		views = append(views, LoginSession{ID: s.ID, Began: s.CreatedAt, Seen: s.SeenAt, ExpiresAt: s.ExpiresAt, Browser: s.Browser, This: s.ID == this})
	}
	return views
}

func (a *api) ownSessions(ctx context.Context, in *callerInput) (*sessionsOutput, error) {
	sessions, this, err := a.Accounts.OwnSessions(ctx, in.token)
	out := &sessionsOutput{}
	out.Body.Items = sessionViews(sessions, this)
	return out, err
}

func (a *api) endSession(ctx context.Context, in *sessionInput) (*noContent, error) {
	return nil, a.Accounts.EndOwnSession(ctx, in.actor.Person, in.ID)
}

func (a *api) setPassword(ctx context.Context, in *passwordInput) (*noContent, error) {
	return nil, a.Accounts.ChangePassword(ctx, in.token, in.Body.Present, in.Body.Password, in.address)
}

func (a *api) invitations(ctx context.Context, in *callerInput) (*invitationsOutput, error) {
	open, err := a.Accounts.Invitations(ctx, in.actor)
	out := &invitationsOutput{}
	out.Body.Items = orEmpty(open)
	return out, err
}

func (a *api) invite(ctx context.Context, in *inviteInput) (*handedOverOutput, error) {
	made, err := a.Accounts.Invite(ctx, in.actor, in.Body)
	return a.handedOver(in.Caller, made, err)
}

func (a *api) renewInvitation(ctx context.Context, in *invitationOf) (*handedOverOutput, error) {
	made, err := a.Accounts.RenewInvitation(ctx, in.actor, in.ID)
	return a.handedOver(in.Caller, made, err)
}

func (a *api) handedOver(in Caller, made auth.Invitation, err error) (*handedOverOutput, error) {
	if err != nil {
		return nil, err
	}
	out := &handedOverOutput{CacheControl: "no-store", Body: HandedOver{ExpiresAt: made.ExpiresAt, ID: made.ID}}
	if made.Token != "" {
		out.Body.Link = in.base + joinPath + made.Token
	}
	return out, nil
}

func (a *api) resetLink(ctx context.Context, in *accountInput) (*handedOverOutput, error) {
	token, until, err := a.Accounts.HandOverReset(ctx, in.actor, in.ID)
	if err != nil {
		return nil, err
	}
	return &handedOverOutput{CacheControl: "no-store", Body: HandedOver{ExpiresAt: until, Link: in.base + resetPath + token}}, nil
}

func (a *api) account(ctx context.Context, in *accountInput) (*accountOutput, error) {
	account, err := a.Accounts.AccountOf(ctx, in.actor, in.ID)
	if err != nil {
		return nil, err
	}
	sessions, err := a.Accounts.SessionsOf(ctx, in.actor, in.ID)
	if err != nil {
		return nil, err
	}
	holdings, err := a.Service.HoldingsOf(ctx, in.actor, in.ID)
	if err != nil {
		return nil, err
	}
	families, err := a.namedFor(ctx, account)
	if err != nil {
		return nil, err
	}
	v := AccountView{Person: personOf(account.Actor()), Login: account.Login, Suspended: account.Disabled, SecondFactor: account.SecondFactor, CreatedAt: account.CreatedAt, SeenAt: account.SeenAt,
		Families: orEmpty(families), Sessions: sessionViews(sessions, ""), Held: []string{}}
	for _, h := range holdings {
		v.Held = append(v.Held, h.Submission)
	}
	return &accountOutput{Body: v}, nil
}

package auth

import "context"

// Outcome is how an attempt to log in ended.
type Outcome string

const (
	LoggedIn      Outcome = "logged in"
	WrongPassword Outcome = "wrong password"
	UnknownLogin  Outcome = "unknown login"
	AccountEnded  Outcome = "account disabled"
	TooOften      Outcome = "too many attempts"
	// UsedBefore: somebody has used a refresh token a second time, so that its login was ended.
	UsedBefore    Outcome = "refresh token used twice"
	WrongCode     Outcome = "wrong second factor"
	WrongPasskey  Outcome = "wrong passkey"
	PasswordReset Outcome = "password set by a link"
	// NotLinked: the OpenID provider knows somebody with whom no account is linked that lets anybody in. ProviderRefused: the provider
	// refused somebody, or what came from it does not hold.
	NotLinked       Outcome = "login of the provider not linked"
	ProviderRefused Outcome = "login by the provider refused"
)

// Attempt is an attempt to log in, as whoever watches over the accounts is told of it.
type Attempt struct {
	// Login is that of an account. It is empty where there is none: what people type there may be their password.
	Login   string
	Address string // that it is counted under; as Login was given it
	Outcome Outcome
}

// Watch has every attempt told to somebody, who is called by several goroutines. It is set before the first one.
func (a *Accounts) Watch(tell func(Attempt)) { a.watch = tell }

func (a *Accounts) tell(login, address string, outcome Outcome) {
	if a.watch != nil {
		a.watch(Attempt{Login: login, Address: address, Outcome: outcome})
	}
}

// Happening is what was done to an account.
type Happening string

const (
	AccountMade     Happening = "account made"
	RoleChanged     Happening = "role changed"
	PasswordSet     Happening = "password set"
	AccountDisabled Happening = "account suspended"
	AccountEnabled  Happening = "account enabled"
	PersonErased    Happening = "person erased"
	FamiliesNamed   Happening = "families named"
	// The account is linked with somebody whom the OpenID provider knows, or no more.
	ProviderLinked   Happening = "login of the provider linked"
	ProviderUnlinked Happening = "login of the provider unlinked"
	// The token of a machine; of one that is revoked its id is told in place of a login.
	MachineTokenMade    Happening = "machine token made"
	MachineTokenRevoked Happening = "machine token revoked"
)

// WatchChanges has every change of an account told to somebody, once it is stored: what happened, and to which login (of an erased person
// the id, since the login is gone). Who did it is known to whoever has called, and may stand in the context. It is set before the first
// change.
func (a *Accounts) WatchChanges(tell func(ctx context.Context, what Happening, login string)) {
	a.changed = tell
}

// done tells of a change that is stored.
func (a *Accounts) done(ctx context.Context, what Happening, login string, err error) error {
	if err == nil && a.changed != nil {
		a.changed(ctx, what, login)
	}
	return err
}

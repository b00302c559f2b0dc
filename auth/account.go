// Package auth knows accounts, passwords and login tokens. It is usable from the command line, from tests and from
// HTTP alike, and knows no web framework and no database: storage is behind Store.
package auth

import (
	"context"
	"time"

	"revidit/review"
)

// Account lets a person log in.
type Account struct {
	Person       string // id of the review.Person; the name stands there
	Name         string
	Login        string // lower case
	Role         review.Role
	PasswordHash string // PHC string of Argon2id; empty: the account has none, and is linked with a provider
	// Version is raised by every change of the account.
	Version   int
	Disabled  bool
	CreatedAt time.Time
	// SeenAt is when a login of the account was used last, give or take some minutes; nil: never, as far as is known.
	SeenAt *time.Time
	// SecondFactor: a password alone lets nobody in.
	SecondFactor bool
	// Language is the tag of BCP 47 that the person has chosen (Service.SetLanguage); empty: none.
	Language string
	// Families are those that a reviewer is named for; empty: all.
	Families review.Families
	// Machines are those that the person has given a token.
	Machines review.Machines
	// Way is that of the login under way, as of Session; it stands with the session.
	Way string
	// Scopes are those of the token by which a machine acts; they stand with the token.
	Scopes review.Scopes
}

// Store keeps accounts. "Not found" is a review.KindNotFound error.
type Store interface {
	SessionStore
	FactorStore
	LinkStore
	ProviderStore
	AccountByLogin(ctx context.Context, login string) (Account, error)
	AccountByPerson(ctx context.Context, person string) (Account, error)
	// AccountsOf are those of some persons, in no order; who has none is left out.
	AccountsOf(ctx context.Context, persons []string) ([]Account, error)
	// CreateAccount stores the account and its person in one transaction; a login that is taken is a
	// review.KindConflict error.
	CreateAccount(ctx context.Context, a Account) error
	// ChangeAccount changes what c names, leaves everything else as it is by then, and raises the version.
	ChangeAccount(ctx context.Context, person string, c AccountChange) error
	RefreshStore
	MachineStore
	// TakeAttempt counts an attempt under a key, for all processes that use the store, and returns 0; or does not count it
	// and returns how long to wait.
	TakeAttempt(ctx context.Context, key string, limit Limit, now time.Time) (wait time.Duration, err error)
	// ErasePerson removes the account, the name, all logins, all drafts, the address and all news of a person for good; what they have done stays
	// under the id.
	ErasePerson(ctx context.Context, by review.Actor, person, reason string) error
	// FindAccounts lists all accounts by login.
	FindAccounts(ctx context.Context) ([]Account, error)
}

// AccountChange is what changes of an account; nil stays as it is.
type AccountChange struct {
	PasswordHash *string
	Disabled     *bool
	Role         *review.Role
	Families     *review.Families
	Reason       string // of a role, of families, or of disabling and enabling; empty: none was given
	EndSessions  bool   // all logins of the account end with the change,
	KeepSession  string // but for this one; empty: none is kept
	// By is who makes the change; the zero Actor stands for the program.
	By review.Actor
	// Letter tells the person of it; nil: none.
	Letter *review.Letter
}

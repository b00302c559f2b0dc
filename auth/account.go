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
	PasswordHash string // PHC string of Argon2id
	// Version is raised by every change of the account.
	Version   int
	Disabled  bool
	CreatedAt time.Time
	// Language is the tag of BCP 47 that the person has chosen (Service.SetLanguage); empty: none.
	Language string
	// Families are those that a reviewer is named for; empty: all.
	Families review.Families
	// Scopes are those of the token by which a machine acts; they stand with the token.
	Scopes review.Scopes
}

// Store keeps accounts. "Not found" is a review.KindNotFound error.
type Store interface {
	AccountByLogin(ctx context.Context, login string) (Account, error)
	AccountByPerson(ctx context.Context, person string) (Account, error)
	// CreateAccount stores the account and its person in one transaction; a login that is taken is a
	// review.KindConflict error.
	CreateAccount(ctx context.Context, a Account) error
	// ChangeAccount changes what c names, leaves everything else as it is by then, and raises the version.
	ChangeAccount(ctx context.Context, person string, c AccountChange) error
	// CreateSession stores a login. An account that is disabled, or no longer at the version at which its password was
	// looked at, is a review.KindNotFound error.
	CreateSession(ctx context.Context, s Session, version int) error
	// AccountBySession is the account that is logged in by a session; one that was ended, has run out, or is of a disabled
	// account, is not found.
	AccountBySession(ctx context.Context, id string, now time.Time) (Account, error)
	// EndSession ends a login; one that is not there is no error. EndSessions ends all of a person.
	EndSession(ctx context.Context, id string) error
	EndSessions(ctx context.Context, person string) error
	RefreshStore
	MachineStore
	// TakeAttempt counts an attempt under a key, for all processes that use the store, and returns 0; or does not count it
	// and returns how long to wait.
	TakeAttempt(ctx context.Context, key string, limit Limit, now time.Time) (wait time.Duration, err error)
	// ErasePerson removes the account, the name, all logins, all drafts, the address and all news of a person for good; what they have done stays
	// under the id.
	ErasePerson(ctx context.Context, person, reason string) error
	// FindAccounts lists all accounts by login.
	FindAccounts(ctx context.Context) ([]Account, error)
}

// AccountChange is what changes of an account; nil stays as it is.
type AccountChange struct {
	PasswordHash *string
	Disabled     *bool
	Role         *review.Role
	Families     *review.Families
	By           review.Actor // who makes it; nobody: the program, by its command line
	Reason       string       // of a role, of families, or of disabling and enabling; empty: none was given
	EndSessions  bool         // all logins of the account end with the change
}

// Session is a login: what a token stands for until it runs out or is ended.
type Session struct {
	ID, Person           string
	CreatedAt, ExpiresAt time.Time
}

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
	// Epoch is part of every token; raising it ends all logins of the account.
	Epoch     int
	Disabled  bool
	CreatedAt time.Time
}

// Store keeps accounts. "Not found" is a review.KindNotFound error.
type Store interface {
	AccountByLogin(ctx context.Context, login string) (Account, error)
	AccountByPerson(ctx context.Context, person string) (Account, error)
	// CreateAccount stores the account and its person in one transaction; a login that is taken is a
	// review.KindConflict error.
	CreateAccount(ctx context.Context, a Account) error
	// UpdateAccount replaces everything but the login.
	UpdateAccount(ctx context.Context, a Account) error
	// FindAccounts lists all accounts by login.
	FindAccounts(ctx context.Context) ([]Account, error)
}

package auth

import (
	"context"
	"crypto/rand"
	"errors"
	"regexp"
	"time"

	"revidit/review"
)

// Refresh is a refresh token as it is stored: its digest alone. It is used once, and the session, which is the family of all that
// follow one another, ends where one is used again (RFC 9700 section 4.14.2).
type Refresh struct {
	Digest, Session string
	CreatedAt       time.Time
}

// RefreshStore keeps refresh tokens. They go with their session.
type RefreshStore interface {
	// AddRefresh stores the first one of a session.
	AddRefresh(ctx context.Context, r Refresh) error
	// UseRefresh takes the one with a digest, stores next in its place, and returns its session and the account; next.Session is
	// not looked at. One that is not known, or whose session has ended, is not found. One that was taken before ends its
	// session: ErrUsedBefore, with the account; it is an event of the account.
	UseRefresh(ctx context.Context, digest string, next Refresh) (Session, Account, error)
	// RefreshUsedTwice is when that happened last to a person since a time; nil: it has not.
	RefreshUsedTwice(ctx context.Context, person string, since time.Time) (*time.Time, error)
}

// ErrUsedBefore says that a refresh token was used a second time: two have it, and one of them has no right to.
var ErrUsedBefore = errors.New("auth: a refresh token was used before")

// Pair is what a program acts by.
type Pair struct {
	Access       string
	AccessUntil  time.Time
	Refresh      string
	RefreshUntil time.Time // when the session ends
	Actor        review.Actor
}

var refreshForm = regexp.MustCompile(`^rr_[A-Z2-7]{26}$`)

// LoginProgram is Login for a program: a token for AccessLife, and one to have the next with, until ProgramLife has gone by. An account
// that asks for a second factor takes a one-time code, or a recovery code, besides; others pass over it.
func (a *Accounts) LoginProgram(ctx context.Context, login, password, code string, from Client) (Pair, error) {
	account, err := a.withPassword(ctx, login, password, from.Address)
	if err == nil && account.SecondFactor {
		err = a.programCode(ctx, account, code, from)
	}
	if err != nil {
		return Pair{}, err
	}
	token, session, err := a.begin(ctx, account, accessType, from)
	if err := a.told(err, account, from.Address); err != nil {
		return Pair{}, err
	}
	first := "rr_" + rand.Text()
	if err := a.store.AddRefresh(ctx, Refresh{Digest: review.SecretDigest(first), Session: session.ID, CreatedAt: a.now()}); err != nil {
		return Pair{}, err
	}
	return a.pair(token, first, session, account), nil
}

func (a *Accounts) programCode(ctx context.Context, account Account, code string, from Client) error {
	if code == "" {
		return secondFactorAsked()
	}
	return a.proveCode(ctx, account, code, from)
}

// Refresh gives the next pair for a refresh token, which counts no more from then on. One that was used before ends the login: two
// have had it. It is told to whoever watches.
func (a *Accounts) Refresh(ctx context.Context, token, clientIP string) (Pair, error) {
	if !refreshForm.MatchString(token) {
		return Pair{}, refreshEnded()
	}
	next := "rr_" + rand.Text()
	session, account, err := a.store.UseRefresh(ctx, review.SecretDigest(token), Refresh{Digest: review.SecretDigest(next), CreatedAt: a.now()})
	switch {
	case errors.Is(err, ErrUsedBefore):
		a.tell(account.Login, clientIP, UsedBefore)
		return Pair{}, refreshEnded()
	case review.KindOf(err) == review.KindNotFound:
		return Pair{}, refreshEnded()
	case err != nil:
		return Pair{}, err
	}
	access, err := a.tokenFor(session, accessType)
	return a.pair(access, next, session, account), err
}

// usedTwiceTold is how long it is told on pages that a refresh token was used twice (our own choice).
const usedTwiceTold = 30 * 24 * time.Hour

// RefreshUsedTwice is when a refresh token of a person was used a second time, in the last thirty days, to the person and to who keeps
// accounts; nil: none was.
func (a *Accounts) RefreshUsedTwice(ctx context.Context, by review.Actor, person string) (*time.Time, error) {
	if by.Person != person {
		if err := mayKeep(by); err != nil {
			return nil, err
		}
	}
	return a.store.RefreshUsedTwice(ctx, person, a.now().Add(-usedTwiceTold))
}

func (a *Accounts) pair(access, refresh string, s Session, account Account) Pair {
	until := a.now().Add(AccessLife)
	if s.ExpiresAt.Before(until) {
		until = s.ExpiresAt
	}
	return Pair{Access: access, AccessUntil: until.UTC().Truncate(time.Second), Refresh: refresh, RefreshUntil: s.ExpiresAt.UTC(), Actor: account.Actor()}
}

func refreshEnded() error {
	return review.Errorf(review.KindUnknownActor, "This refresh token is none, has run out, or was used before, which ends its login. Nothing was changed; log in again.")
}

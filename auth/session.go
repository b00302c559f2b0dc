package auth

import (
	"context"
	"log/slog"
	"time"

	"revidit/review"
)

// DefaultIdleLimit is how long a login lasts that nobody uses (our own choice): long enough to look through a drawer with the page
// open, and what was typed meanwhile is kept when it has ended.
const DefaultIdleLimit = 2 * time.Hour

// MostSessions is how many logins a person has at a time (our own choice); one more ends the one that was not used for longest.
const MostSessions = 50

// seenEvery is how often it is noted that a login is used: once in this time, so that reading does not write each time.
const seenEvery = 5 * time.Minute

// seenPatience is how long a request waits for that note. One that is not written is written by the next request.
const seenPatience = 500 * time.Millisecond

// Client is from where somebody logs in.
type Client struct {
	Address string // that attempts are counted under
	// Browser names it, as far as it says so itself: a browser and a system, such as "firefox linux"; empty: a program.
	Browser string
	// Way and ProvenAt are as of Session.
	Way      string
	ProvenAt *time.Time
}

// Session is a login: what a token stands for until it runs out, is not used for too long, or is ended.
type Session struct {
	ID, Person           string
	CreatedAt, ExpiresAt time.Time
	SeenAt               time.Time // when it was used last, give or take seenEvery
	Browser              string    // as of Client
	// Way is ByProvider or BySecondProvider; empty: by what the person has typed or holds.
	Way string
	// ProvenAt is when the provider has looked at the person last; nil: it was not asked, or does not say.
	ProvenAt *time.Time
}

// SessionStore keeps logins.
type SessionStore interface {
	// CreateSession stores a login, and ends what is more than MostSessions of its person. An account that is disabled, or no longer at the version at which its password was
	// looked at, is a review.KindNotFound error.
	CreateSession(ctx context.Context, s Session, version int) error
	// AccountBySession is the account that is logged in by a session; one that was ended, has run out, was not used since idle, or is of a
	// disabled account, is not found.
	AccountBySession(ctx context.Context, id string, now, idle time.Time) (Account, Session, error)
	// SeeSession notes that a session is used, unless it was noted since a time.
	SeeSession(ctx context.Context, s Session, at, since time.Time) error
	// Sessions are those of a person by which AccountBySession would find the account, the one used last first.
	Sessions(ctx context.Context, person string, now, idle time.Time) ([]Session, error)
	// EndSession ends a login; one that is not there is no error. EndSessions ends all of a person, but for one to keep.
	EndSession(ctx context.Context, id string) error
	EndSessions(ctx context.Context, person, keep string) error
	// EndSessionsBy ends all of somebody else, which is an event.
	EndSessionsBy(ctx context.Context, by review.Actor, person, reason string) error
}

// see notes that a session is used. Reading goes on where the disk is full, or where writers stand in a queue.
func (a *Accounts) see(ctx context.Context, s Session) {
	now := a.moment()
	if now.Sub(s.SeenAt) < seenEvery {
		return
	}
	ctx, cancel := context.WithTimeout(ctx, seenPatience)
	defer cancel()
	if err := a.store.SeeSession(ctx, s, now, now.Add(-seenEvery)); err != nil {
		a.log.LogAttrs(ctx, slog.LevelWarn, "that a login is used was not noted", slog.Any("error", err))
	}
}

// OwnSessions are the logins of who is logged in by a token, and which of them is this one.
func (a *Accounts) OwnSessions(ctx context.Context, token string) (sessions []Session, this string, err error) {
	account, s, err := a.verify(ctx, token, ownToken)
	if err != nil {
		return nil, "", err
	}
	sessions, err = a.store.Sessions(ctx, account.Person, a.now(), a.idleSince())
	return sessions, s.ID, err
}

// SessionsOf are the logins of a person, to who keeps accounts.
func (a *Accounts) SessionsOf(ctx context.Context, by review.Actor, person string) ([]Session, error) {
	if err := mayKeep(by); err != nil {
		return nil, err
	}
	return a.store.Sessions(ctx, person, a.now(), a.idleSince())
}

func (a *Accounts) idleSince() time.Time { return a.now().Add(-a.idle) }

// EndOwnSession ends one login of a person.
func (a *Accounts) EndOwnSession(ctx context.Context, person, id string) error {
	sessions, err := a.store.Sessions(ctx, person, a.now(), a.idleSince())
	if err != nil {
		return err
	}
	for _, s := range sessions {
		if s.ID == id {
			return a.store.EndSession(ctx, id)
		}
	}
	return review.Errorf(review.KindNotFound, "You have no such login any more. Nothing was changed.")
}

// EndOtherSessions ends all logins of who is logged in by a token, but for this one.
func (a *Accounts) EndOtherSessions(ctx context.Context, token string) error {
	account, s, err := a.verify(ctx, token, ownToken)
	if err != nil {
		return err
	}
	return a.store.EndSessions(ctx, account.Person, s.ID)
}

// EndSessionsOf ends all logins of a person, by who keeps accounts, with a reason.
func (a *Accounts) EndSessionsOf(ctx context.Context, by review.Actor, person, reason string) error {
	if err := mayKeep(by); err != nil {
		return err
	}
	if err := checkReason(reason); err != nil {
		return err
	}
	if _, err := a.store.AccountByPerson(ctx, person); err != nil {
		return err
	}
	return a.store.EndSessionsBy(ctx, by, person, reason)
}

package modelstest

import (
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
	"revidit/review/service"
)

var sessions = map[string]func(fixture){
	"a session logs in until it runs out":        sessionRunsOut,
	"sessions end one by one and all together":   sessionsEnd,
	"a session begins at the account's version":  sessionAtVersion,
	"attempts are counted and forgotten":         attemptsCounted,
	"attempts at once pass as many as are given": attemptsAtOnce,
}

var sessionsAtOnce = map[string]func(fixture){
	"attempts at once pass as many as are given": attemptsAtOnce,
}

func (f fixture) logIn(id, person string) {
	f.Helper()
	stored, err := f.db.AccountByPerson(f.Context(), person)
	require.NoError(f, err)
	session := auth.Session{ID: id, Person: person, CreatedAt: noon, ExpiresAt: noon.Add(time.Hour)}
	require.NoError(f, f.db.CreateSession(f.Context(), session, stored.Version))
}

func (f fixture) loggedIn(id string, at time.Time) bool {
	f.Helper()
	_, _, err := f.db.AccountBySession(f.Context(), id, at, time.Time{})
	if review.KindOf(err) == review.KindNotFound {
		return false
	}
	require.NoError(f, err)
	return true
}

func sessionRunsOut(f fixture) {
	require.NoError(f, f.db.CreateAccount(f.Context(), account("p1", "ada", "Ada")))
	f.logIn("s1", "p1")
	got, _, err := f.db.AccountBySession(f.Context(), "s1", noon.Add(time.Hour-time.Microsecond), time.Time{})
	require.NoError(f, err)
	want := account("p1", "ada", "Ada")
	want.SeenAt = new(noon)
	require.Equal(f, want, got)
	require.False(f, f.loggedIn("s1", noon.Add(time.Hour)), "not on or after that time")
	for _, unknown := range []string{"", "none", "s1\x00"} {
		require.False(f, f.loggedIn(unknown, noon))
	}
	require.Zero(f, f.expire(service.Expiry{Sessions: noon.Add(time.Hour)}))
	require.Equal(f, 1, f.expire(service.Expiry{Sessions: noon.Add(2 * time.Hour)}))
}

func sessionsEnd(f fixture) {
	require.NoError(f, f.db.CreateAccount(f.Context(), account("p1", "ada", "Ada")))
	require.NoError(f, f.db.CreateAccount(f.Context(), account("p2", "bob", "Bob")))
	for id, person := range map[string]string{"a1": "p1", "a2": "p1", "a3": "p1", "b1": "p2"} {
		f.logIn(id, person)
	}
	require.NoError(f, f.db.EndSession(f.Context(), "a1"))
	require.NoError(f, f.db.EndSession(f.Context(), "a1"), "what has ended is ended")
	require.False(f, f.loggedIn("a1", noon))
	require.True(f, f.loggedIn("a2", noon))
	require.NoError(f, f.db.EndSessions(f.Context(), "p1", ""))
	require.False(f, f.loggedIn("a2", noon))
	require.False(f, f.loggedIn("a3", noon))
	require.True(f, f.loggedIn("b1", noon), "somebody else's")
	f.logIn("a4", "p1")
	require.NoError(f, f.db.ChangeAccount(f.Context(), "p1", auth.AccountChange{EndSessions: true}))
	require.False(f, f.loggedIn("a4", noon))
	require.NoError(f, f.db.ErasePerson(f.Context(), review.Actor{}, "p2", "left the club"))
	require.False(f, f.loggedIn("b1", noon))
}

func sessionAtVersion(f fixture) {
	require.NoError(f, f.db.CreateAccount(f.Context(), account("p1", "ada", "Ada")))
	session := auth.Session{ID: "s1", Person: "p1", CreatedAt: noon, ExpiresAt: noon.Add(time.Hour)}
	requireKind(f.T, review.KindNotFound, f.db.CreateSession(f.Context(), session, 2))
	f.logIn("s1", "p1")
	require.NoError(f, f.db.ChangeAccount(f.Context(), "p1", auth.AccountChange{Disabled: new(true)}))
	require.False(f, f.loggedIn("s1", noon), "of a disabled account")
	session.ID = "s2"
	requireKind(f.T, review.KindNotFound, f.db.CreateSession(f.Context(), session, 2))
}

func attemptsCounted(f fixture) {
	limit := auth.Limit{Burst: 3, Every: 10 * time.Second}
	take := func(key string, at time.Time) time.Duration {
		wait, err := f.db.TakeAttempt(f.Context(), key, limit, at)
		require.NoError(f, err)
		return wait
	}
	for range 3 {
		require.Zero(f, take("ada", noon))
	}
	require.Equal(f, 10*time.Second, take("ada", noon))
	require.Zero(f, take("bob", noon), "each key has a count of its own")
	require.Equal(f, time.Second, take("ada", noon.Add(9*time.Second)))
	require.Zero(f, take("ada", noon.Add(10*time.Second)), "a refused attempt is not counted")
	require.Equal(f, 10*time.Second, take("ada", noon.Add(10*time.Second)))
	for range 3 {
		require.Zero(f, take("ada", noon.Add(time.Hour)), "all are forgotten, and no more than all")
	}
	require.NotZero(f, take("ada", noon.Add(time.Hour)))
	require.Equal(f, 1, f.expire(service.Expiry{Sessions: noon.Add(time.Minute)}))
	require.NotZero(f, take("ada", noon.Add(time.Hour)), "what still counts is kept")
}

// attemptsAtOnce: the bound holds for all processes together, of which each has connections of its own.
func attemptsAtOnce(f fixture) {
	limit := auth.Limit{Burst: 5, Every: time.Hour}
	var passed atomic.Int32
	var group sync.WaitGroup
	failed := make(chan error, 20)
	for range 20 {
		group.Go(func() {
			wait, err := f.db.TakeAttempt(f.Context(), "ada", limit, noon)
			if err != nil {
				failed <- fmt.Errorf("take: %w", err)
				return
			}
			if wait == 0 {
				passed.Add(1)
			}
		})
	}
	group.Wait()
	require.Empty(f, failed)
	require.EqualValues(f, 5, passed.Load())
}

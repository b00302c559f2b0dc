package auth_test

import (
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
)

// program logs in as a program does.
func (c *club) program(t *testing.T, login string) auth.Pair {
	t.Helper()
	pair, err := c.LoginProgram(t.Context(), login, password, "", auth.Client{Address: address})
	require.NoError(t, err)
	return pair
}

func (c *club) accepts(t *testing.T, access string) {
	t.Helper()
	_, err := c.Program(t.Context(), access)
	require.NoError(t, err)
}

func (c *club) refuses(t *testing.T, access string) {
	t.Helper()
	_, err := c.Program(t.Context(), access)
	refused(t, err)
}

func TestProgramsRefresh(t *testing.T) {
	c := newClub(t, wide)
	c.join(t, "ada", review.RoleMember)
	first := c.program(t, "ada")
	require.Equal(t, c.now.Add(15*time.Minute), first.AccessUntil)
	require.Equal(t, c.now.Add(30*24*time.Hour), first.RefreshUntil)
	c.accepts(t, first.Access)
	_, err := c.Account(t.Context(), first.Access)
	refused(t, err) // an access token is no cookie
	c.refuses(t, c.login(t, "ada"))
	c.refuses(t, first.Refresh)

	c.now = c.now.Add(15 * time.Minute)
	c.refuses(t, first.Access)
	second, err := c.Refresh(t.Context(), first.Refresh, address)
	require.NoError(t, err)
	require.NotEqual(t, first.Refresh, second.Refresh)
	require.Equal(t, first.RefreshUntil, second.RefreshUntil, "a login does not live for ever by being refreshed")
	c.accepts(t, second.Access)

	c.now = first.RefreshUntil.Add(-time.Minute)
	last, err := c.Refresh(t.Context(), second.Refresh, address)
	require.NoError(t, err)
	require.Equal(t, first.RefreshUntil, last.AccessUntil)
	c.now = first.RefreshUntil
	_, err = c.Refresh(t.Context(), last.Refresh, address)
	refused(t, err)
	for _, none := range []string{"", "rr_", "rr_" + strings.Repeat("A", 26), last.Access, last.Refresh + "\n"} {
		_, err = c.Refresh(t.Context(), none, address)
		refused(t, err)
	}
}

// TestRefreshTwice: whoever uses a refresh token a second time ends the login for both who have it (RFC 9700 section 4.14.2), and
// whoever watches is told.
func TestRefreshTwice(t *testing.T) {
	c := newClub(t, wide)
	c.join(t, "ada", review.RoleMember)
	var told []auth.Attempt
	c.Watch(func(a auth.Attempt) { told = append(told, a) })
	other := c.program(t, "ada")
	first := c.program(t, "ada")
	second, err := c.Refresh(t.Context(), first.Refresh, address)
	require.NoError(t, err)
	_, err = c.Refresh(t.Context(), first.Refresh, "198.51.100.1")
	refused(t, err)
	require.Equal(t, auth.Attempt{Login: "ada", Address: "198.51.100.1", Outcome: auth.UsedBefore}, told[len(told)-1])
	c.refuses(t, second.Access)
	_, err = c.Refresh(t.Context(), second.Refresh, address)
	refused(t, err)
	c.accepts(t, other.Access) // another login of the same person stays

	ada, ben := other.Actor, review.Actor{Person: "ben", Role: review.RoleMember}
	at, err := c.RefreshUsedTwice(t.Context(), ada, ada.Person)
	require.NoError(t, err)
	require.Equal(t, c.now, *at)
	_, err = c.RefreshUsedTwice(t.Context(), ben, ada.Person)
	require.Equal(t, review.KindForbidden, review.KindOf(err))
	c.now = c.now.Add(31 * 24 * time.Hour)
	at, err = c.RefreshUsedTwice(t.Context(), ada, ada.Person)
	require.NoError(t, err)
	require.Nil(t, at, "told for thirty days")
}

// TestRefreshAtOnce: of many who use one token at the same time at most one gets on, on both databases, and the login has ended then.
func TestRefreshAtOnce(t *testing.T) {
	for name, open := range map[string]func(testing.TB) *models.DB{"SQLite": modelstest.SQLite, "Postgres": modelstest.Postgres} {
		t.Run(name, func(t *testing.T) {
			c := newClubAt(t, open(t), auth.Options{Limits: wide})
			c.join(t, "ada", review.RoleMember)
			first := c.program(t, "ada")
			var group sync.WaitGroup
			var mu sync.Mutex
			var got []auth.Pair
			for range 6 {
				group.Go(func() {
					if pair, err := c.Refresh(t.Context(), first.Refresh, address); err == nil {
						mu.Lock()
						defer mu.Unlock()
						got = append(got, pair)
					}
				})
			}
			group.Wait()
			require.LessOrEqual(t, len(got), 1)
			for _, pair := range got {
				c.refuses(t, pair.Access)
			}
			c.refuses(t, first.Access)
		})
	}
}

func TestLogoutEverywhereEndsPrograms(t *testing.T) {
	c := newClub(t, wide)
	ada := c.join(t, "ada", review.RoleMember)
	pair := c.program(t, "ada")
	require.NoError(t, c.LogoutEverywhere(t.Context(), ada.Person))
	c.refuses(t, pair.Access)
	_, err := c.Refresh(t.Context(), pair.Refresh, address)
	refused(t, err)

	again := c.program(t, "ada")
	require.NoError(t, c.Disable(t.Context(), "ada", "a test"))
	c.refuses(t, again.Access)
	_, err = c.Refresh(t.Context(), again.Refresh, address)
	refused(t, err)
}

func TestMachines(t *testing.T) {
	for name, open := range map[string]func(testing.TB) *models.DB{"SQLite": modelstest.SQLite, "Postgres": modelstest.Postgres} {
		t.Run(name, func(t *testing.T) {
			c := newClubAt(t, open(t), auth.Options{Limits: wide})
			curator := c.join(t, "cora", review.RoleCurator).Actor()
			member := c.join(t, "ada", review.RoleMember).Actor()
			form := auth.MachineForm{Name: "Drawer scanner", Purpose: "photos of drawers", Scopes: []review.Scope{review.ScopeSubmit, review.ScopeRead}, Days: 365}
			_, _, err := c.GiveMachineToken(t.Context(), member, form)
			require.Equal(t, review.KindForbidden, review.KindOf(err))
			secret, token, err := c.GiveMachineToken(t.Context(), curator, form)
			require.NoError(t, err)
			require.Equal(t, c.now.AddDate(0, 0, 365), token.ExpiresAt)
			behind, err := c.Account(t.Context(), c.login(t, "cora"))
			require.NoError(t, err)
			require.True(t, behind.Actor().Behind(token.Person), "who has given it a token stands behind it")

			machine, err := c.Program(t.Context(), secret)
			require.NoError(t, err)
			require.Equal(t, review.Actor{Person: token.Person, Name: "Drawer scanner", Role: review.RoleMachine, Scopes: "read submit"}, machine.Actor())
			_, err = c.Account(t.Context(), secret)
			refused(t, err) // no cookie
			tampered := secret[:len(secret)-1] + map[bool]string{true: "B", false: "A"}[strings.HasSuffix(secret, "A")]
			for _, none := range []string{"rm_", tampered, secret + "A", strings.ToLower(secret), secret[:30] + strings.Repeat("A", 26)} {
				c.refuses(t, none)
			}

			// It has no password, no other role, and no second way in.
			_, _, err = c.Login(t.Context(), machine.Login, password, address)
			refused(t, err)
			require.Equal(t, review.KindConflict, review.KindOf(c.SetPassword(t.Context(), machine.Login, "another long password")))
			require.Equal(t, review.KindConflict, review.KindOf(c.SetRole(t.Context(), machine.Login, review.RoleCurator, "a test")))
			require.Equal(t, review.KindInvalid, review.KindOf(c.SetRole(t.Context(), "ada", review.RoleMachine, "a test")))

			// When it was used last is told to a minute.
			c.now = c.now.Add(30 * time.Second)
			c.accepts(t, secret)
			list, err := c.MachineTokens(t.Context(), curator)
			require.NoError(t, err)
			require.Len(t, list, 1)
			require.Equal(t, c.now.Add(-30*time.Second), *list[0].LastUsed)
			c.now = c.now.Add(time.Minute)
			c.accepts(t, secret)
			list, err = c.MachineTokens(t.Context(), curator)
			require.NoError(t, err)
			require.Equal(t, c.now, *list[0].LastUsed)

			// A second token of the same machine outlives the first.
			again := auth.MachineForm{Machine: token.Person, Purpose: "the same, renewed", Scopes: []review.Scope{review.ScopeRead}, Days: 1}
			renewed, second, err := c.GiveMachineToken(t.Context(), curator, again)
			require.NoError(t, err)
			behind, err = c.Account(t.Context(), c.login(t, "cora"))
			require.NoError(t, err)
			require.Equal(t, []string{token.Person}, behind.Actor().Machines.IDs(), "once, however many tokens it has")
			behind, err = c.Account(t.Context(), c.login(t, "ada"))
			require.NoError(t, err)
			require.Empty(t, behind.Actor().Machines)
			require.NoError(t, err)
			require.Equal(t, token.Person, second.Person)
			require.Equal(t, review.KindForbidden, review.KindOf(c.RevokeMachineToken(t.Context(), member, token.ID, "not hers")))
			require.NoError(t, c.RevokeMachineToken(t.Context(), curator, token.ID, "it leaked"))
			require.NoError(t, c.RevokeMachineToken(t.Context(), curator, token.ID, "again"))
			c.refuses(t, secret)
			c.accepts(t, renewed)
			c.now = second.ExpiresAt
			c.refuses(t, renewed)

			events, err := c.store.Events(t.Context(), review.AccountStream(token.Person))
			require.NoError(t, err)
			var kinds []string
			for _, e := range events {
				kinds = append(kinds, e.Change.EventKind())
				require.Equal(t, curator.Person, e.Actor)
			}
			require.Equal(t, []string{"account-added", "token-given", "token-given", "token-revoked"}, kinds)
		})
	}
}

func TestMachineFormIsChecked(t *testing.T) {
	c := newClub(t, wide)
	curator := c.join(t, "cora", review.RoleCurator).Actor()
	good := auth.MachineForm{Name: "Scanner", Purpose: "photos", Scopes: []review.Scope{review.ScopeRead}, Days: 1}
	for field, spoil := range map[string]func(*auth.MachineForm){
		"name":    func(f *auth.MachineForm) { f.Name = " " },
		"purpose": func(f *auth.MachineForm) { f.Purpose = "" },
		"days":    func(f *auth.MachineForm) { f.Days = 366 },
		"scopes":  func(f *auth.MachineForm) { f.Scopes = append(f.Scopes, "review") },
	} {
		form := good
		spoil(&form)
		_, _, err := c.GiveMachineToken(t.Context(), curator, form)
		var wrong *review.Error
		require.ErrorAs(t, err, &wrong)
		require.Equal(t, field, wrong.Fields[0].Field)
	}
	good.Machine = curator.Person
	_, _, err := c.GiveMachineToken(t.Context(), curator, good)
	require.Equal(t, review.KindNotFound, review.KindOf(err), "a person is no machine")
}

// TestKeysRotate: what a key has signed stays good when another one signs, in this process and in others on the same file.
func TestKeysRotate(t *testing.T) {
	path := filepath.Join(t.TempDir(), "keys")
	ring, err := auth.LoadOrCreateKeys(path)
	require.NoError(t, err)
	other, err := auth.LoadKeys(path)
	require.NoError(t, err)
	db := modelstest.SQLite(t)
	accounts := func(r *auth.KeyRing) *auth.Accounts {
		made, err := auth.NewAccounts(db, r, auth.Options{Limits: wide})
		require.NoError(t, err)
		return made
	}
	here, there := accounts(ring), accounts(other)
	_, err = here.Create(t.Context(), "ada", "Ada Beetle", review.RoleMember, password)
	require.NoError(t, err)
	before, _, err := here.Login(t.Context(), "ada", password, address)
	require.NoError(t, err)

	key, err := ring.AddTokenKey(time.Now().Add(-time.Second))
	require.NoError(t, err)
	after, _, err := here.Login(t.Context(), "ada", password, address)
	require.NoError(t, err)
	require.NotEqual(t, strings.Split(before, ".")[0], strings.Split(after, ".")[0], "another key has signed")
	for _, token := range []string{before, after} {
		_, err := here.Account(t.Context(), token)
		require.NoError(t, err)
		_, err = accounts(mustLoad(t, path)).Account(t.Context(), token)
		require.NoError(t, err)
	}
	_, err = there.Account(t.Context(), before)
	require.NoError(t, err)

	require.ErrorContains(t, ring.EndTokenKey(key.ID, time.Now()), "signs the tokens of now")
	require.ErrorContains(t, ring.EndTokenKey("none", time.Now()), "no token key")
	require.NoError(t, ring.EndTokenKey(ring.TokenKeys()[0].ID, time.Now()))
	_, err = here.Account(t.Context(), before)
	refused(t, err)
	_, err = here.Account(t.Context(), after)
	require.NoError(t, err)

	info, err := os.Stat(path)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
}

func mustLoad(t *testing.T, path string) *auth.KeyRing {
	t.Helper()
	ring, err := auth.LoadKeys(path)
	require.NoError(t, err)
	return ring
}

// FuzzSecrets: no text of a stranger is taken for a refresh token or for that of a machine.
func FuzzSecrets(f *testing.F) {
	db := modelstest.SQLite(f)
	accounts, err := auth.NewAccounts(db, auth.MemoryKeys(), auth.Options{Limits: wide})
	require.NoError(f, err)
	account, err := accounts.Create(f.Context(), "cora", "Cora", review.RoleCurator, password)
	require.NoError(f, err)
	pair, err := accounts.LoginProgram(f.Context(), "cora", password, "", auth.Client{Address: address})
	require.NoError(f, err)
	secret, _, err := accounts.GiveMachineToken(f.Context(), account.Actor(), auth.MachineForm{Name: "M", Purpose: "p", Scopes: review.AllScopes, Days: 1})
	require.NoError(f, err)
	for _, seed := range []string{secret, pair.Access, pair.Refresh, "rm_", "rr_", strings.ToLower(secret), secret[:30], secret + "\n", "rr_" + strings.Repeat("A", 26)} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if _, err := accounts.Program(t.Context(), text); err == nil && text != secret && text != pair.Access {
			t.Fatalf("%q was taken for a token", text)
		}
		if text == pair.Refresh {
			return
		}
		if _, err := accounts.Refresh(t.Context(), text, address); err == nil {
			t.Fatalf("%q was taken for a refresh token", text)
		}
	})
}

package auth_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
)

const (
	password = "a long enough password"
	address  = "192.0.2.7" // RFC 5737
)

// club is accounts over a real database, with a clock that stands still.
type club struct {
	*auth.Accounts
	store *models.DB
	now   time.Time
}

func newClub(t *testing.T, limits auth.Limits) *club {
	t.Helper()
	return newClubAt(t, modelstest.SQLite(t), auth.Options{Limits: limits})
}

func newClubAt(t *testing.T, db *models.DB, o auth.Options) *club {
	t.Helper()
	c := &club{store: db, now: time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)}
	o.Now = func() time.Time { return c.now }
	accounts, err := auth.NewAccounts(c.store, auth.MemoryKeys(), o)
	require.NoError(t, err)
	c.Accounts = accounts
	return c
}

var (
	wideLimit = auth.Limit{Burst: 1000, Every: time.Second}
	wide      = auth.Limits{PerAddress: wideLimit, PerPair: wideLimit, PerAccount: wideLimit}
)

func (c *club) join(t *testing.T, login string, role review.Role) auth.Account {
	t.Helper()
	account, err := c.Create(t.Context(), login, "Ada Beetle", role, password)
	require.NoError(t, err)
	return account
}

func (c *club) login(t *testing.T, login string) string {
	t.Helper()
	token, _, err := c.Login(t.Context(), login, password, address)
	require.NoError(t, err)
	return token
}

func refused(t *testing.T, err error) {
	t.Helper()
	require.Error(t, err)
	require.Equal(t, review.KindUnknownActor, review.KindOf(err), err.Error())
}

func TestLogin(t *testing.T) {
	c := newClub(t, wide)
	account := c.join(t, "Ada", review.RoleReviewer)
	require.Equal(t, "ada", account.Login)
	require.Contains(t, account.PasswordHash, "$argon2id$v=19$m=19456,t=2,p=1$", "19 MiB, two passes, one lane")

	token, actor, err := c.Login(t.Context(), " ADA ", password, address)
	require.NoError(t, err)
	want := review.Actor{Person: account.Person, Name: "Ada Beetle", Role: review.RoleReviewer}
	require.Equal(t, want, actor)
	got, err := c.Actor(t.Context(), token)
	require.NoError(t, err)
	require.Equal(t, want, got)
	for range 11 { // used all day
		c.now = c.now.Add(time.Hour)
		_, err = c.Actor(t.Context(), token)
		require.NoError(t, err)
	}
	c.now = c.now.Add(time.Hour - time.Second)
	_, err = c.Actor(t.Context(), token)
	require.NoError(t, err)
	c.now = c.now.Add(time.Second)
	_, err = c.Actor(t.Context(), token)
	refused(t, err)
}

func TestLoginRefusesAlike(t *testing.T) {
	c := newClub(t, wide)
	c.join(t, "ada", review.RoleMember)
	c.join(t, "gone", review.RoleMember)
	require.NoError(t, c.Disable(t.Context(), "gone", "a test"))
	var words []string
	for _, attempt := range [][2]string{{"ada", "another password"}, {"nobody", password}, {"gone", password}, {"ada", ""},
		{"", password}, {"no spaces allowed", password}, {"ada", strings.Repeat("x", 5000)}, {"ada", "\xff\xfe not text"}} {
		_, _, err := c.Login(t.Context(), attempt[0], attempt[1], address)
		refused(t, err)
		words = append(words, err.Error())
	}
	for _, w := range words {
		require.Equal(t, words[0], w, "the answer must not tell whether a login exists")
	}
}

// TestUnknownLoginWaitsToo: with the only place for a password taken, an unknown login waits as a known one does, so it
// is worked on in the same way. Times are not measured.
func TestUnknownLoginWaitsToo(t *testing.T) {
	c := newClub(t, wide)
	c.join(t, "ada", review.RoleMember)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	for _, login := range []string{"ada", "nobody"} {
		_, _, err := c.Login(ctx, login, password, address)
		require.ErrorIs(t, err, context.Canceled)
	}
}

func TestLoginIsLimited(t *testing.T) {
	const elsewhere = "198.51.100.1" // RFC 5737
	two := auth.Limit{Burst: 2, Every: time.Minute}
	for name, test := range map[string]struct {
		limits                      auth.Limits
		other, fromElsewhere, known bool // whether is still let through: another login from there, the login from elsewhere, from there
	}{
		"by address":             {auth.Limits{PerAddress: two, PerPair: wideLimit, PerAccount: wideLimit}, false, true, false},
		"by account and address": {auth.Limits{PerAddress: wideLimit, PerPair: two, PerAccount: wideLimit}, true, true, false},
		"by account":             {auth.Limits{PerAddress: wideLimit, PerPair: wideLimit, PerAccount: two}, true, false, false},
	} {
		t.Run(name, func(t *testing.T) {
			c := newClub(t, test.limits)
			c.join(t, "ada", review.RoleMember)
			c.join(t, "eve", review.RoleMember)
			for range 2 {
				_, _, err := c.Login(t.Context(), "ada", "a wrong password", address)
				refused(t, err)
			}
			passes := func(login, from string) bool {
				_, _, err := c.Login(t.Context(), login, password, from)
				if errors.Is(err, auth.ErrTooMany) {
					return false
				}
				require.NoError(t, err)
				return true
			}
			require.Equal(t, test.other, passes("eve", address))
			require.Equal(t, test.fromElsewhere, passes("ada", elsewhere))
			require.Equal(t, test.known, passes("ada", address))
			c.now = c.now.Add(time.Minute)
			require.True(t, passes("ada", address))
		})
	}
}

// TestGuessingElsewhereKeepsNobodyOut: one wrong login every two seconds from elsewhere for twenty minutes, and the owner
// logs in every two. With one count an account 21 of 25 right logins were refused.
func TestGuessingElsewhereKeepsNobodyOut(t *testing.T) {
	c := newClub(t, auth.Limits{})
	c.join(t, "ada", review.RoleMember)
	looked := 0
	for second := 0; second < 1200; second += 2 {
		c.now = c.now.Add(2 * time.Second)
		_, _, err := c.Login(t.Context(), "ada", "a wrong password", "198.51.100.1") // RFC 5737
		require.Error(t, err)
		if !errors.Is(err, auth.ErrTooMany) {
			looked++
		}
		if second%120 == 0 {
			c.login(t, "ada")
		}
	}
	require.LessOrEqual(t, looked, 10+1200/30, "ten at once, and one in thirty seconds")
}

// TestLimitsAreShared: two processes over one database count together.
func TestLimitsAreShared(t *testing.T) {
	two := auth.Limit{Burst: 2, Every: time.Minute}
	first := newClub(t, auth.Limits{PerPair: two})
	second := newClubAt(t, first.store, auth.Options{Limits: auth.Limits{PerPair: two}})
	first.join(t, "ada", review.RoleMember)
	for _, c := range []*club{first, second} {
		_, _, err := c.Login(t.Context(), "ada", "a wrong password", address)
		refused(t, err)
	}
	for _, c := range []*club{first, second} {
		_, _, err := c.Login(t.Context(), "ada", password, address)
		require.ErrorIs(t, err, auth.ErrTooMany)
	}
}

func TestTokenEnds(t *testing.T) {
	for name, end := range map[string]func(t *testing.T, c *club, a auth.Account){
		"when it runs out": func(t *testing.T, c *club, a auth.Account) { c.now = c.now.Add(12 * time.Hour) },
		"on logout everywhere": func(t *testing.T, c *club, a auth.Account) {
			require.NoError(t, c.LogoutEverywhere(t.Context(), a.Person))
		},
		"when the account is disabled": func(t *testing.T, c *club, a auth.Account) {
			require.NoError(t, c.Disable(t.Context(), "ada", "a test"))
		},
		"when the password changes": func(t *testing.T, c *club, a auth.Account) {
			require.NoError(t, c.SetPassword(t.Context(), "ada", "another long password"))
		},
	} {
		t.Run(name, func(t *testing.T) {
			c := newClub(t, wide)
			account := c.join(t, "ada", review.RoleMember)
			token := c.login(t, "ada")
			_, err := c.Actor(t.Context(), token)
			require.NoError(t, err)
			end(t, c, account)
			_, err = c.Actor(t.Context(), token)
			refused(t, err)
		})
	}
}

func TestLogoutEndsOneLogin(t *testing.T) {
	c := newClub(t, wide)
	c.join(t, "ada", review.RoleMember)
	here, elsewhere := c.login(t, "ada"), c.login(t, "ada")
	require.NoError(t, c.Logout(t.Context(), here))
	require.NoError(t, c.Logout(t.Context(), here), "what has ended is ended")
	require.NoError(t, c.Logout(t.Context(), "no token"))
	_, err := c.Actor(t.Context(), here)
	refused(t, err)
	_, err = c.Actor(t.Context(), elsewhere)
	require.NoError(t, err)
}

func TestActorRefuses(t *testing.T) {
	c := newClub(t, wide)
	c.join(t, "ada", review.RoleMember)
	token := c.login(t, "ada")
	for _, bad := range []string{"", "x", token + "x", token[:len(token)-2], strings.Repeat("a", 100_000)} {
		_, err := c.Actor(t.Context(), bad)
		refused(t, err)
	}
	other := newClub(t, wide)
	_, err := other.Actor(t.Context(), token)
	refused(t, err)
}

func TestEnabledAgain(t *testing.T) {
	c := newClub(t, wide)
	c.join(t, "ada", review.RoleMember)
	require.NoError(t, c.Disable(t.Context(), "ada", "a test"))
	require.NoError(t, c.Enable(t.Context(), "ada", "a test"))
	c.login(t, "ada")
}

func TestSetRole(t *testing.T) {
	c := newClub(t, wide)
	c.join(t, "ada", review.RoleMember)
	token := c.login(t, "ada")
	require.NoError(t, c.SetRole(t.Context(), "ada", review.RoleCurator, "a test"))
	actor, err := c.Actor(t.Context(), token)
	require.NoError(t, err)
	require.Equal(t, review.RoleCurator, actor.Role)
	require.Equal(t, review.KindInvalid, review.KindOf(c.SetRole(t.Context(), "ada", "owner", "a test")))
	require.Equal(t, review.KindNotFound, review.KindOf(c.SetRole(t.Context(), "nobody", review.RoleMember, "a test")))
}

func TestSetPassword(t *testing.T) {
	c := newClub(t, wide)
	c.join(t, "ada", review.RoleMember)
	// e with an acute accent, as one letter and as two: the same password (RFC 8265 section 4.2, NFC).
	require.NoError(t, c.SetPassword(t.Context(), "ada", "caf\u00e9 cr\u00e8me caf\u00e9"))
	_, _, err := c.Login(t.Context(), "ada", "cafe\u0301 cre\u0300me cafe\u0301", address)
	require.NoError(t, err)
	_, _, err = c.Login(t.Context(), "ada", password, address)
	refused(t, err)
	for _, bad := range []string{"", strings.Repeat("abcdefg ", 26), "control\x00characters"} {
		require.Equal(t, review.KindInvalid, review.KindOf(c.SetPassword(t.Context(), "ada", bad)), bad)
	}
	require.NoError(t, c.SetPassword(t.Context(), "ada", strings.Repeat("é à ü ", 33)+"öß"))
}

// TestPasswordRules: the words are those of common_passwords.txt, the shapes those of NIST SP 800-63B section 5.1.1.2 (from
// memory).
func TestPasswordRules(t *testing.T) {
	c := newClub(t, wide)
	c.join(t, "odile", review.RoleMember)
	for _, bad := range []string{"eleven lett", "ééééé à é ü", // eleven letters, however many bytes
		"odileodileodile", "Odile-Odile-1976", "ODILE 1234567",
		"123qweasdzxc", "PolniyPizdec0211", "password2024!", "Password1234", "PasswordPassword", "iloveyou-iloveyou", "beetle#beetle#1", "Revidit-2026!", "Coleoptera-2026", "Museum-museum-1", "Bestimmung 2026",
		"111111111111", "abababababab", "abcabcabcabc 1", "314159265358", "14.05.1976 14.05.1976",
		"abcdefghijklm", "nmlkjihgfedcba", "123456789012", "qwertyuiopas", "mnbvcxzlkjhg", "azertyuiopqs"} {
		err := c.SetPassword(t.Context(), "odile", bad)
		require.Equal(t, review.KindInvalid, review.KindOf(err), bad)
		require.Equal(t, "password", err.(*review.Error).Fields[0].Field)
		_, err = c.Create(t.Context(), "odile", "Odile", review.RoleMember, bad)
		require.Equal(t, review.KindInvalid, review.KindOf(err), bad)
	}
	for _, good := range []string{"twelve lette", "seven beetles on a pin", "odile likes rove beetles", "ein Käfer, zwei Nadeln", "Жук на булавке"} {
		require.NoError(t, c.SetPassword(t.Context(), "odile", good), good)
	}
}

// TestFormerPasswordsGoOn: what was set under other rules still logs in.
func TestFormerPasswordsGoOn(t *testing.T) {
	c := newClub(t, wide)
	hash, err := argon2id.CreateHash("password", &argon2id.Params{Memory: 64, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32})
	require.NoError(t, err)
	require.NoError(t, c.store.CreateAccount(t.Context(), auth.Account{Person: "p", Login: "old", Name: "Old", Role: review.RoleMember,
		PasswordHash: hash, Version: 1, CreatedAt: c.now}))
	_, _, err = c.Login(t.Context(), "old", "password", address)
	require.NoError(t, err)
}

func TestWhoWatchesIsTold(t *testing.T) {
	c := newClub(t, auth.Limits{PerPair: auth.Limit{Burst: 3, Every: time.Minute}, PerAddress: wideLimit, PerAccount: wideLimit})
	c.join(t, "ada", review.RoleMember)
	var told []auth.Attempt
	c.Watch(func(a auth.Attempt) { told = append(told, a) })
	for _, attempt := range [][2]string{{" ADA", password}, {"ada", "wrong"}, {"my password", "ada"}, {"ada", ""}, {"ada", password}} {
		_, _, _ = c.Login(t.Context(), attempt[0], attempt[1], address) // told either way
	}
	require.NoError(t, c.Disable(t.Context(), "ada", "a test"))
	c.now = c.now.Add(time.Hour)
	_, _, err := c.Login(t.Context(), "ada", password, address)
	refused(t, err)
	require.Equal(t, []auth.Attempt{{"ada", address, auth.LoggedIn}, {"ada", address, auth.WrongPassword}, {"", address, auth.UnknownLogin},
		{"ada", address, auth.WrongPassword}, {"ada", address, auth.TooOften}, {"ada", address, auth.AccountEnded}}, told)
}

func TestCreateNamesEveryProblem(t *testing.T) {
	c := newClub(t, wide)
	_, err := c.Create(t.Context(), "two words", "", "owner", "short")
	var known *review.Error
	require.True(t, errors.As(err, &known))
	fields := []string{}
	for _, f := range known.Fields {
		fields = append(fields, f.Field)
	}
	require.Equal(t, []string{"login", "name", "role", "password"}, fields)

	c.join(t, "ada", review.RoleMember)
	_, err = c.Create(t.Context(), "ADA", "Another", review.RoleMember, password)
	require.Equal(t, review.KindConflict, review.KindOf(err))
}

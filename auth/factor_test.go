package auth_test

import (
	"encoding/base32"
	"testing"
	"time"

	"github.com/pquerna/otp/totp"
	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
)

// codesOf sets up one-time codes for somebody and returns the secret and the recovery codes.
func (c *club) codesOf(t *testing.T, token string) (secret string, recovery []string) {
	t.Helper()
	made, err := c.BeginCodes(t.Context(), token, password, address)
	require.NoError(t, err)
	key, err := base32.StdEncoding.WithPadding(base32.NoPadding).DecodeString(made.Key)
	require.NoError(t, err)
	require.Len(t, key, 20)
	require.Contains(t, made.URI, "otpauth://totp/Revidit:")
	_, err = c.ConfirmCodes(t.Context(), token, "000000")
	require.Equal(t, review.KindInvalid, review.KindOf(err))
	recovery, err = c.ConfirmCodes(t.Context(), token, c.code(t, made.Key))
	require.NoError(t, err)
	require.Len(t, recovery, 10)
	return made.Key, recovery
}

// code is what another program than ours shows now.
func (c *club) code(t *testing.T, secret string) string {
	t.Helper()
	code, err := totp.GenerateCode(secret, c.now)
	require.NoError(t, err)
	return code
}

func TestOneTimeCodes(t *testing.T) {
	c := newClub(t, wide)
	account := c.join(t, "ada", review.RoleCurator)
	token := c.login(t, "ada")
	_, err := c.BeginCodes(t.Context(), token, "another password", address)
	require.Equal(t, review.KindInvalid, review.KindOf(err))
	secret, recovery := c.codesOf(t, token)
	used := c.code(t, secret)

	enter := func() auth.Entry {
		t.Helper()
		entry, err := c.Enter(t.Context(), "ada", password, auth.Client{Address: address})
		require.NoError(t, err)
		require.Empty(t, entry.Token, "the password alone lets nobody in")
		return entry
	}
	give := func(entry auth.Entry, code string) (string, error) {
		got, err := c.EnterCode(t.Context(), entry.Step, code, auth.Client{Address: address})
		return got.Token, err
	}
	_, _, err = c.Login(t.Context(), "ada", password, address)
	refused(t, err)
	step := enter()
	_, err = give(step, used)
	require.Equal(t, review.KindInvalid, review.KindOf(err), "it was used when it was set up")
	c.now = c.now.Add(30 * time.Second)
	got, err := give(step, c.code(t, secret))
	require.NoError(t, err)
	actor, err := c.Actor(t.Context(), got)
	require.NoError(t, err)
	require.Equal(t, account.Person, actor.Person)
	_, err = give(step, c.code(t, secret))
	refused(t, err) // the step has ended
	_, err = give(enter(), c.code(t, secret))
	require.Equal(t, review.KindInvalid, review.KindOf(err), "no code twice (RFC 6238 section 5.2)")

	// A clock may be off by one step, and no more.
	c.now = c.now.Add(20 * time.Minute)
	early := c.code(t, secret)
	c.now = c.now.Add(-60 * time.Second)
	_, err = give(enter(), early)
	require.Equal(t, review.KindInvalid, review.KindOf(err))
	c.now = c.now.Add(30 * time.Second)
	_, err = give(enter(), early)
	require.NoError(t, err)

	// A recovery code lets somebody in once, however it is written.
	_, err = c.LoginProgram(t.Context(), "ada", password, " "+recovery[0][:9]+" "+recovery[0][10:], auth.Client{Address: address})
	require.NoError(t, err)
	_, err = c.LoginProgram(t.Context(), "ada", password, recovery[0], auth.Client{Address: address})
	require.Equal(t, review.KindInvalid, review.KindOf(err))
	left, err := c.OwnFactors(t.Context(), account.Person)
	require.NoError(t, err)
	require.Equal(t, 9, left.Recovery)

	// Whoever has the password guesses five times, and then once in five minutes.
	c.now = c.now.Add(time.Hour)
	guessed := enter()
	for range 5 {
		_, err = give(guessed, "000000")
		require.Equal(t, review.KindInvalid, review.KindOf(err))
	}
	_, err = give(guessed, c.code(t, secret))
	require.ErrorIs(t, err, auth.ErrTooMany)
	c.now = c.now.Add(11 * time.Minute)
	_, err = give(guessed, c.code(t, secret))
	refused(t, err) // half a login lasts ten minutes

	c.now = c.now.Add(time.Hour)
	_, token2, err := c.reenter(t, secret)
	require.NoError(t, err)
	require.Equal(t, review.KindInvalid, review.KindOf(c.RemoveFactor(t.Context(), token2, "wrong password", address, review.FactorCodes, "")))
	require.NoError(t, c.RemoveFactor(t.Context(), token2, password, address, review.FactorCodes, ""))
	entry, err := c.Enter(t.Context(), "ada", password, auth.Client{Address: address})
	require.NoError(t, err)
	require.NotEmpty(t, entry.Token)
	none, err := c.OwnFactors(t.Context(), account.Person)
	require.NoError(t, err)
	require.Zero(t, none.Recovery, "with the last factor")
}

func (c *club) reenter(t *testing.T, secret string) (auth.Entry, string, error) {
	t.Helper()
	first, err := c.Enter(t.Context(), "ada", password, auth.Client{Address: address})
	require.NoError(t, err)
	entry, err := c.EnterCode(t.Context(), first.Step, c.code(t, secret), auth.Client{Address: address})
	return auth.Entry{}, entry.Token, err
}

// A change of the account between password and second factor ends the login that waits.
func TestHalfALoginEndsWithTheAccount(t *testing.T) {
	c := newClub(t, wide)
	account := c.join(t, "ada", review.RoleMember)
	secret, _ := c.codesOf(t, c.login(t, "ada"))
	entry, err := c.Enter(t.Context(), "ada", password, auth.Client{Address: address})
	require.NoError(t, err)
	require.NoError(t, c.SetPassword(t.Context(), "ada", "elytra are hardened wings"))
	c.now = c.now.Add(30 * time.Second)
	_, err = c.EnterCode(t.Context(), entry.Step, c.code(t, secret), auth.Client{Address: address})
	refused(t, err)

	carl := review.Actor{Person: "carl", Role: review.RoleCurator}
	require.Equal(t, review.KindForbidden, review.KindOf(c.RemoveFactorsOf(t.Context(), review.Actor{Person: "ben", Role: review.RoleMember}, account.Person, "lost")))
	require.NoError(t, c.RemoveFactorsOf(t.Context(), carl, account.Person, "a lost telephone"))
	events, err := c.store.Events(t.Context(), review.AccountStream(account.Person))
	require.NoError(t, err)
	last := events[len(events)-1]
	require.Equal(t, "carl", last.Actor)
	require.Equal(t, &review.FactorRemoved{Factor: review.FactorAll, Reason: "a lost telephone"}, last.Change)
	entry, err = c.Enter(t.Context(), "ada", "elytra are hardened wings", auth.Client{Address: address})
	require.NoError(t, err)
	require.NotEmpty(t, entry.Token)
}

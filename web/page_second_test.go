package web

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/pquerna/otp/totp"
	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
)

// codeAfter is what another program than ours shows some steps after now.
func codeAfter(t testing.TB, secret string, steps int) string {
	t.Helper()
	code, err := totp.GenerateCode(secret, time.Now().Add(time.Duration(steps)*30*time.Second))
	require.NoError(t, err)
	return code
}

// setUp has somebody set up one-time codes by the pages.
func (c *apiClub) setUp(who string) (secret string, recovery []string) {
	c.t.Helper()
	require.Equal(c.t, "/account/codes", c.post(who, "/account/codes", url.Values{"present": {clubPassword}}).goesTo())
	text := c.page(who, "/account/codes", 200)
	require.Contains(c.t, text, `src="data:image/png;base64,`)
	secret = regexp.MustCompile(`<code>([A-Z2-7]{32})</code>`).FindStringSubmatch(text)[1]
	require.Contains(c.t, c.shown(c.post(who, "/account/codes/confirm", url.Values{"code": {"000000"}}), http.StatusBadRequest), "clock is right")
	shown := c.shown(c.post(who, "/account/codes/confirm", url.Values{"code": {codeAfter(c.t, secret, -1)}}), http.StatusOK)
	for _, m := range regexp.MustCompile(`<code>([A-Z2-7-]{19})</code>`).FindAllStringSubmatch(shown, -1) {
		recovery = append(recovery, m[1])
	}
	require.Len(c.t, recovery, 10)
	return secret, recovery
}

func TestASecondStepAfterThePassword(t *testing.T) {
	club := newAPIClub(t)
	require.Contains(t, club.page("cora", "/", 200), "Add a second factor")
	require.NotContains(t, club.page("ada", "/", 200), "Add a second factor")
	club.shown(club.post("cora", "/account/codes", url.Values{"present": {"not it"}}), http.StatusBadRequest)
	secret, recovery := club.setUp("cora")
	require.NotContains(t, club.page("cora", "/", 200), "Add a second factor")
	require.NotContains(t, club.page("cora", "/account", 200), recovery[0], "shown once")
	require.Equal(t, "/account", club.call("cora", "GET", "/account/codes", nil).goesTo(), "the secret is shown no more")

	form := "login=cora&next=%2Fpolicy&password=" + url.QueryEscape(clubPassword)
	enter := func() (cookie string) {
		got := club.call("", "POST", "/login", form, "Content-Type", "application/x-www-form-urlencoded")
		require.Equal(t, "/login/second?next=%2Fpolicy", got.goesTo())
		set, err := http.ParseSetCookie(got.header.Get("Set-Cookie"))
		require.NoError(t, err)
		require.Equal(t, http.SameSiteStrictMode, set.SameSite)
		require.True(t, set.HttpOnly)
		return set.Name + "=" + set.Value
	}
	give := func(cookie, code string) *reply {
		return club.call("", "POST", "/login/second", url.Values{"code": {code}, "next": {"/policy"}}.Encode(), "Cookie", cookie, "Content-Type", "application/x-www-form-urlencoded")
	}
	step := enter()
	require.Contains(t, club.shown(club.call("", "GET", "/login/second", nil, "Cookie", step), http.StatusOK), "Six digits")
	require.Contains(t, club.shown(give(step, "123"), http.StatusBadRequest), "Is not right")
	club.call("", "GET", "/api/v1/me", nil, "Cookie", strings.Replace(step, "revidit-step", "revidit", 1)).is(http.StatusUnauthorized)
	in := give(step, codeAfter(t, secret, 1))
	require.Equal(t, "/policy", in.goesTo())
	club.shown(give(step, recovery[0]), http.StatusUnauthorized)
	require.Equal(t, "/login", club.call("", "GET", "/login/second", nil).goesTo(), "who has given no password")
	require.Equal(t, "/policy", give(enter(), recovery[0]).goesTo())

	club.call("", "POST", "/api/v1/sessions", map[string]any{"login": "cora", "password": clubPassword}).is(http.StatusUnauthorized)
	club.call("", "POST", "/api/v1/sessions", map[string]any{"login": "cora", "password": clubPassword, "code": recovery[1]}).is(http.StatusCreated)
	club.call("", "POST", "/api/v1/sessions", map[string]any{"login": "cora", "password": clubPassword, "code": recovery[1]}).is(http.StatusBadRequest)

	fresh := club.shown(club.post("cora", "/account/recovery", url.Values{"present": {clubPassword}}), http.StatusOK)
	require.NotContains(t, fresh, recovery[2])
	desk := "/people/" + club.people["cora"] + "/account"
	require.Equal(t, desk+"?done=factors", club.post("carl", desk+"/factors", url.Values{"reason": {"a lost telephone"}}).goesTo())
	require.Contains(t, club.page("cora", "/", 200), "Add a second factor")
}

func TestASecondFactorIsRequiredOfCurators(t *testing.T) {
	club := newAPIClub(t, func(c *Config, _ *auth.Options) { c.SecondFactor = SecondRequired })
	require.Equal(t, "/account", club.call("cora", "GET", "/people", nil).goesTo())
	require.Equal(t, "/account", club.post("cora", "/policy", nil).goesTo())
	require.Contains(t, club.page("cora", "/account", 200), "asks curators for a second factor")
	require.Contains(t, club.call("cora", "GET", "/api/v1/policy", nil).is(http.StatusForbidden).problem().Detail, "second factor")
	club.call("cora", "GET", "/api/v1/me", nil).is(http.StatusOK)
	club.page("rita", "/people", 200)
	club.setUp("cora")
	club.page("cora", "/people", 200)
	club.call("cora", "GET", "/api/v1/policy", nil).is(http.StatusOK)
}

// What is no passkey lets nobody in, and every answer to a challenge is the last one. That one lets its person in is tested in a browser.
func TestWhatIsNoPasskey(t *testing.T) {
	without := newAPIClub(t)
	require.NotContains(t, without.page("", "/login", 200), "data-passkey")
	require.Equal(t, http.StatusConflict, without.call("", "POST", "/login/passkey", nil).status)
	club := newAPIClub(t, func(_ *Config, o *auth.Options) { o.PublicURL = "http://localhost:8080" })
	require.Contains(t, club.page("", "/login", 200), `data-origin="http://localhost:8080"`)
	begun := club.call("", "POST", "/login/passkey", nil).is(http.StatusOK)
	options := decoded[struct {
		PublicKey struct{ Challenge, RPID, UserVerification string }
	}](begun).PublicKey
	require.Equal(t, "localhost", options.RPID)
	require.Equal(t, "required", options.UserVerification)
	require.GreaterOrEqual(t, len(options.Challenge), 22, "16 bytes at least (W3C Web Authentication section 13.4.3)")
	set, err := http.ParseSetCookie(begun.header.Get("Set-Cookie"))
	require.NoError(t, err)
	for _, answer := range []string{"", "{}", `{"id":"x","type":"public-key"}`} {
		got := club.call("", "POST", "/login/passkey/end", url.Values{"answer": {answer}}.Encode(), "Cookie", set.Name+"="+set.Value, "Content-Type", "application/x-www-form-urlencoded")
		require.Contains(t, []int{400, 401}, got.status)
		require.NotContains(t, got.header.Get("Set-Cookie"), "revidit=")
	}
	require.Contains(t, string(club.post("ada", "/account/passkeys", url.Values{"present": {"not it"}}).body), "not your password")
	club.post("ada", "/account/passkeys", url.Values{"present": {clubPassword}}).is(http.StatusOK)
	club.shown(club.post("ada", "/account/factors/remove", url.Values{"present": {clubPassword}, "factor": {string(review.FactorAll)}}), http.StatusBadRequest)
}

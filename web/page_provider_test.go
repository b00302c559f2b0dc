package web

import (
	"bytes"
	"crypto/rand"
	"crypto/rsa"
	"crypto/x509"
	"encoding/base64"
	"encoding/pem"
	"log/slog"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/go-jose/go-jose/v4"
	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/auth/providertest"
	"revidit/review"
)

var quiet = slog.New(slog.DiscardHandler)

const museumURL = "https://revidit.example"

// museumClub is a club whose people may come by the login of a museum.
func museumClub(t testing.TB, options ...func(*Config, *auth.Options)) (*apiClub, *providertest.Provider) {
	t.Helper()
	museum := providertest.Start(t, museumURL+ProviderPath)
	provider, err := auth.NewProvider(auth.ProviderConfig{Issuer: museum.Issuer, ClientID: providertest.Client, Secret: providertest.Secret,
		Redirect: museumURL + ProviderPath, SecondACR: []string{"urn:museum:two"}})
	require.NoError(t, err)
	return newAPIClub(t, append(options, func(c *Config, o *auth.Options) { c.PublicURL, o.Provider, o.Log = museumURL, provider, quiet })...), museum
}

// sent posts a form with some cookies.
func (c *apiClub) sent(path string, fields url.Values, cookies ...string) *reply {
	c.t.Helper()
	return c.call("", "POST", path, fields.Encode(), "Content-Type", "application/x-www-form-urlencoded", "Cookie", strings.Join(cookies, "; "))
}

func (c *apiClub) seen(path string, cookies ...string) *reply {
	c.t.Helper()
	return c.call("", "GET", path, nil, "Cookie", strings.Join(cookies, "; "))
}

// given is a cookie of an answer.
func (r *reply) given(name string) string {
	r.t.Helper()
	for _, line := range r.header.Values("Set-Cookie") {
		cookie, err := http.ParseSetCookie(line)
		require.NoError(r.t, err)
		if cookie.Name == name && cookie.Value != "" {
			return name + "=" + cookie.Value
		}
	}
	require.Fail(r.t, "no cookie "+name, "%v", r.header)
	return ""
}

// leads is where a page leads on to by itself.
func (r *reply) leads() string {
	r.t.Helper()
	require.Equal(r.t, http.StatusOK, r.status, string(r.body))
	address, found := strings.CutPrefix(r.header.Get("Refresh"), "0; url=")
	require.True(r.t, found, string(r.body))
	return address
}

// onTheWay sends somebody to the museum by a form; back is what they come back with.
func (c *apiClub) onTheWay(museum *providertest.Provider, path string, fields url.Values, who string, cookies ...string) (back, step string) {
	c.t.Helper()
	begun := c.sent(path, fields, cookies...)
	step = begun.given("revidit-step")
	at := museum.Visit(c.t, begun.leads(), who)
	require.True(c.t, strings.HasPrefix(at.String(), museumURL+ProviderPath+"?"), at.String())
	return at.RequestURI(), step
}

// byMuseum logs somebody in, or does not.
func (c *apiClub) byMuseum(museum *providertest.Provider, who string) *reply {
	c.t.Helper()
	back, step := c.onTheWay(museum, "/login/provider", url.Values{"next": {"/policy"}}, who)
	return c.seen(back, step)
}

// linked links somebody with who is known to the museum.
func (c *apiClub) linked(museum *providertest.Provider, login, who string) {
	c.t.Helper()
	back, step := c.onTheWay(museum, "/account/provider", url.Values{"present": {clubPassword}}, who, c.cookie(login))
	require.Equal(c.t, "/account?done=provider", c.seen(back, step, c.cookie(login)).goesTo())
}

func TestTheLoginOfAMuseum(t *testing.T) {
	club, museum := museumClub(t)
	require.Contains(t, club.page("", "/login", 200), "With my museum")
	require.NotContains(t, newAPIClub(t).page("", "/login", 200), "museum")
	stranger := club.byMuseum(museum, providertest.Quill)
	text := club.shown(stranger, http.StatusUnauthorized)
	require.Contains(t, text, "no account here that lets you in is linked")
	require.Contains(t, club.log.String(), `event="login of the provider not linked" account=""`)

	require.Contains(t, club.shown(club.sent("/account/provider", url.Values{"present": {"not it"}}, club.cookie("ada")), http.StatusBadRequest), "Is not your password")
	back, step := club.onTheWay(museum, "/account/provider", url.Values{"present": {clubPassword}}, providertest.Quill, club.cookie("ada"))
	club.shown(club.seen(back, step), http.StatusUnauthorized) // without the login that has asked
	club.linked(museum, "ada", providertest.Quill)
	require.Contains(t, club.shown(club.seen("/account", club.cookie("ada")), 200), "Linked since")
	require.Contains(t, club.log.String(), `event="login of the provider linked" account=ada`)
	back, step = club.onTheWay(museum, "/account/provider", url.Values{"present": {clubPassword}}, providertest.Quill, club.cookie("ben"))
	require.Contains(t, club.shown(club.seen(back, step, club.cookie("ben")), http.StatusConflict), "is linked already")

	in := club.byMuseum(museum, providertest.Quill)
	require.Equal(t, "/policy", in.goesTo())
	session := in.given("revidit")
	require.Equal(t, club.people["ada"], decoded[review.Person](club.call("", "GET", "/api/v1/me", nil, "Cookie", session).is(http.StatusOK)).ID)
	require.Contains(t, club.shown(club.seen("/account", session), 200), "by your museum")
	require.Contains(t, club.log.String(), `event="logged in" account=ada`)
	out := club.sent("/logout", nil, session)
	require.Equal(t, "/login?out=provider", out.goesTo())
	require.Contains(t, club.page("", "/login?out=provider", 200), "may go on in this browser")

	// Each answer counts once, in the browser that has asked, with the state that it was given.
	back, step = club.onTheWay(museum, "/login/provider", nil, providertest.Quill)
	club.shown(club.seen(back), http.StatusUnauthorized)
	club.shown(club.seen(back, "revidit-step="+rand.Text()), http.StatusUnauthorized)
	require.Equal(t, "/", club.seen(back, step).goesTo())
	club.shown(club.seen(back, step), http.StatusUnauthorized)
	back, step = club.onTheWay(museum, "/login/provider", nil, providertest.Quill)
	foreign, err := url.Parse(back)
	require.NoError(t, err)
	query := foreign.Query()
	query.Set("state", rand.Text())
	club.shown(club.seen(ProviderPath+"?"+query.Encode(), step), http.StatusUnauthorized)
	back, step = club.onTheWay(museum, "/login/provider", nil, providertest.Quill)
	require.Contains(t, club.shown(club.seen(back+"&iss=https%3A%2F%2Felsewhere.example", step), http.StatusUnauthorized), "does not hold", "RFC 9207")
	begun := club.sent("/login/provider", nil)
	asked, err := url.Parse(begun.leads())
	require.NoError(t, err)
	require.Equal(t, "S256", asked.Query().Get("code_challenge_method"))
	require.NotEmpty(t, asked.Query().Get("nonce"))
	refused := ProviderPath + "?error=access_denied&state=" + asked.Query().Get("state")
	require.Contains(t, club.shown(club.seen(refused, begun.given("revidit-step")), http.StatusUnauthorized), "has not let you in")

	// Whoever is suspended is told what a stranger is told.
	desk := "/people/" + club.people["ada"] + "/account"
	require.Equal(t, desk+"?done=suspend", club.post("cora", desk+"/suspend", url.Values{"reason": {"asked"}}).goesTo())
	require.Equal(t, text, club.shown(club.byMuseum(museum, providertest.Quill), http.StatusUnauthorized))
	require.Equal(t, desk+"?done=readmit", club.post("cora", desk+"/readmit", url.Values{"reason": {"asked"}}).goesTo())

	require.Equal(t, "/account?done=unlinked", club.sent("/account/provider/unlink", url.Values{"present": {clubPassword}}, club.cookie("ada")).goesTo())
	require.Equal(t, text, club.shown(club.byMuseum(museum, providertest.Quill), http.StatusUnauthorized))
	require.Equal(t, 1, museum.Asked()["/.well-known/openid-configuration"], "what the provider says of itself is kept")
	require.Equal(t, 1, museum.Asked()["/keys"])
}

// A curator takes the login of a museum off somebody's account, who is told; nobody else does, and the last way in stays.
func TestACuratorTakesAMuseumsLoginOff(t *testing.T) {
	club, museum := museumClub(t)
	desk := "/people/" + club.people["ada"] + "/account"
	require.NotContains(t, club.page("cora", desk, 200), "Take the museum")
	club.linked(museum, "ada", providertest.Quill)
	text := club.page("cora", desk, 200)
	require.Contains(t, text, "Take the museum")
	require.Contains(t, text, museum.Issuer)
	in := club.byMuseum(museum, providertest.Quill).given("revidit")
	off := func(who, reason string) *reply {
		return club.post(who, desk+"/museum", url.Values{"reason": {reason}})
	}
	for _, who := range []string{"ada", "rita"} {
		club.shown(off(who, "has left"), http.StatusForbidden)
	}
	require.Contains(t, club.shown(off("cora", ""), http.StatusBadRequest), "Must be filled in")
	club.call("", "GET", "/api/v1/me", nil, "Cookie", in).is(http.StatusOK)
	require.Equal(t, desk+"?done=museum", off("cora", "has left the museum").goesTo())
	text = club.page("cora", desk+"?done=museum", 200)
	require.Contains(t, text, "is taken off; the person is told")
	require.NotContains(t, text, museum.Issuer)
	require.Contains(t, club.log.String(), `event="login of the provider unlinked" account=ada`)
	club.call("", "GET", "/api/v1/me", nil, "Cookie", in).is(http.StatusUnauthorized)
	club.call("ada", "GET", "/api/v1/me", nil).is(http.StatusOK) // by the password
	club.shown(club.byMuseum(museum, providertest.Quill), http.StatusUnauthorized)
	require.Contains(t, club.shown(off("cora", "again"), http.StatusConflict), "any more")

	require.Equal(t, []review.NewsCode{review.NewsLoginTakenOff}, club.codes("ada"))
	news := club.newsOf("ada").Lines[0]
	require.Equal(t, club.people["cora"], news.Actor)
	require.Contains(t, club.page("ada", "/news", 200), "has taken your museum’s login off your account")
	require.Equal(t, "/account", club.seen("/news/"+news.ID, club.cookie("ada")).goesTo())
}

// Each case is an ID token that OpenID Connect Core section 3.1.3.7, or RFC 8725, has refused; the first two are taken, so that the
// others can fail.
func TestAnswersOfAMuseumThatDoNotHold(t *testing.T) {
	club, museum := museumClub(t)
	club.linked(museum, "ada", providertest.Quill)
	other, err := rsa.GenerateKey(rand.Reader, 2048)
	require.NoError(t, err)
	public, err := x509.MarshalPKIXPublicKey(&museum.Key.PublicKey)
	require.NoError(t, err)
	set := func(claim string, value any) func(map[string]any) {
		return func(claims map[string]any) {
			if claims[claim] = value; value == nil {
				delete(claims, claim)
			}
		}
	}
	now := time.Now().Unix()
	for name, c := range map[string]struct {
		alter func(map[string]any)
		sign  func([]byte) string
		good  bool
	}{
		"as it is":                {good: true},
		"signed again":            {alter: set("extra", "x"), good: true},
		"another algorithm of it": {sign: func(p []byte) string { return providertest.Signed(jose.PS256, museum.Key, p) }},
		"another nonce":           {alter: set("nonce", "n")},
		"no nonce":                {alter: set("nonce", nil)},
		"another audience":        {alter: set("aud", []string{"somebody"})},
		"another party":           {alter: set("azp", "somebody")},
		"two audiences, no party": {alter: func(c map[string]any) { c["aud"] = []string{providertest.Client, "somebody"}; delete(c, "azp") }},
		"expired":                 {alter: set("exp", now-1)},
		"no expiry":               {alter: set("exp", nil)},
		"of a time to come":       {alter: set("iat", now+600)},
		"not yet good":            {alter: set("nbf", now+600)},
		"another issuer":          {alter: set("iss", "https://elsewhere.example")},
		"nobody":                  {alter: set("sub", "")},
		"another access token":    {alter: set("at_hash", base64.RawURLEncoding.EncodeToString(make([]byte, 16)))},
		"another key":             {sign: func(p []byte) string { return providertest.Signed(jose.RS256, other, p) }},
		"HS256 with the secret": {sign: func(p []byte) string {
			return providertest.Signed(jose.HS256, []byte(strings.Repeat(providertest.Secret, 2)), p)
		}},
		"HS256 with the key": {sign: func(p []byte) string {
			return providertest.Signed(jose.HS256, pem.EncodeToMemory(&pem.Block{Type: "PUBLIC KEY", Bytes: public}), p)
		}},
		"none": {sign: func(p []byte) string {
			return base64.RawURLEncoding.EncodeToString([]byte(`{"alg":"none"}`)) + "." + base64.RawURLEncoding.EncodeToString(p) + "."
		}},
		"no token": {sign: func([]byte) string { return "" }},
	} {
		museum.Alter(c.alter, c.sign)
		got := club.byMuseum(museum, providertest.Quill)
		if c.good {
			require.Equal(t, "/policy", got.goesTo(), name)
			continue
		}
		require.Contains(t, club.shown(got, http.StatusUnauthorized), "does not hold", name)
	}
	require.Contains(t, club.log.String(), `event="login by the provider refused"`)
}

// Who was invited may take the museum's login in place of a password, and is then vouched for by it.
func TestAnInvitationByTheMuseum(t *testing.T) {
	club, museum := museumClub(t)
	invited := func() string {
		found := regexp.MustCompile(`revidit\.example(/join/[A-Z2-7]{26})`).FindStringSubmatch(club.shown(club.post("cora", "/invitations", url.Values{"role": {"reviewer"}}), http.StatusOK))
		require.NotNil(t, found)
		return found[1]
	}
	path := invited()
	require.Contains(t, club.page("", path, 200), "With my museum")
	require.Contains(t, club.shown(club.sent(path+"/provider", url.Values{"name": {""}, "login": {"two words"}}), http.StatusBadRequest), "without spaces")
	form := url.Values{"name": {"Rea Reed"}, "login": {"rea"}}
	back, step := club.onTheWay(museum, path+"/provider", form, providertest.Reed)
	in := club.seen(back, step)
	require.Equal(t, "/", in.goesTo())
	session := in.given("revidit")
	me := decoded[review.Person](club.call("", "GET", "/api/v1/me", nil, "Cookie", session).is(http.StatusOK))
	require.Equal(t, review.RoleReviewer, me.Role)
	require.Equal(t, "Rea Reed", me.Name)
	club.page("", path, http.StatusNotFound)
	for _, password := range []string{"", clubPassword} {
		club.shown(club.sent("/login", url.Values{"login": {"rea"}, "password": {password}}), http.StatusUnauthorized)
	}
	back, step = club.onTheWay(museum, invited()+"/provider", url.Values{"name": {"Rea"}, "login": {"rea2"}}, providertest.Reed)
	require.Contains(t, club.shown(club.seen(back, step), http.StatusConflict), "is linked already", "one account for each")

	// The provider has just looked at her: she may go on, but not lose the last way in. Later it has to look again.
	require.Contains(t, club.shown(club.sent("/account/provider/unlink", nil, session), http.StatusConflict), "the last way")
	museum.Alter(func(c map[string]any) { c["auth_time"] = time.Now().Add(-time.Hour).Unix() }, nil)
	stale := club.byMuseum(museum, providertest.Reed).given("revidit")
	require.Contains(t, club.shown(club.seen("/account", stale), 200), "Confirm that it is me")
	require.Contains(t, club.shown(club.sent("/account/codes", nil, stale), http.StatusConflict), "has no password")
	back, step = club.onTheWay(museum, "/account/provider/confirm", nil, providertest.Reed, stale)
	require.Contains(t, club.shown(club.seen(back, step, stale), http.StatusUnauthorized), "does not hold", "it has not looked again")
	museum.Alter(nil, nil)
	back, step = club.onTheWay(museum, "/account/provider/confirm", nil, providertest.Quill, stale)
	club.shown(club.seen(back, step, stale), http.StatusUnauthorized) // somebody else
	back, step = club.onTheWay(museum, "/account/provider/confirm", nil, providertest.Reed, stale)
	confirmed := club.seen(back, step, stale)
	require.Equal(t, "/account", confirmed.goesTo())
	fresh := confirmed.given("revidit")
	require.Equal(t, "/account?done=password", club.sent("/account/password", url.Values{"password": {"elytra are hardened wings"}}, fresh).goesTo())
	club.shown(club.sent("/account/provider/unlink", nil, fresh), http.StatusBadRequest) // there is a password now
	require.Equal(t, "/account?done=unlinked", club.sent("/account/provider/unlink", url.Values{"present": {"elytra are hardened wings"}}, fresh).goesTo())
}

// Our own second factor is asked for unless the provider says, by amr (RFC 8176) or acr, that one was used there.
func TestTheSecondFactorAndTheMuseum(t *testing.T) {
	club, museum := museumClub(t, func(c *Config, _ *auth.Options) { c.SecondFactor = SecondRequired })
	club.linked(museum, "ada", providertest.Quill)
	_, recovery := club.setUp("ada")
	asked := club.byMuseum(museum, providertest.Quill)
	require.Equal(t, "/login/second?next=%2Fpolicy", asked.leads())
	step := asked.given("revidit-step")
	in := club.sent("/login/second", url.Values{"code": {recovery[0]}, "next": {"/policy"}}, step)
	require.Equal(t, "/policy", in.goesTo())
	require.Equal(t, "/login?out=provider", club.sent("/logout", nil, in.given("revidit")).goesTo(), "it is known by which way")
	for claim, value := range map[string]any{"amr": []string{"pwd", "mfa"}, "acr": "urn:museum:two"} {
		museum.Alter(func(c map[string]any) { c[claim] = value }, nil)
		require.Equal(t, "/policy", club.byMuseum(museum, providertest.Quill).goesTo(), claim)
	}
	// A curator is required to have one.
	museum.Alter(nil, nil)
	club.linked(museum, "cora", providertest.Reed)
	museum.Alter(func(c map[string]any) { c["amr"], c["acr"] = []string{"pwd"}, "urn:museum:one" }, nil)
	session := club.byMuseum(museum, providertest.Reed).given("revidit")
	require.Equal(t, "/account", club.seen("/policy", session).goesTo())
	museum.Alter(func(c map[string]any) { c["amr"] = []string{"mfa"} }, nil)
	session = club.byMuseum(museum, providertest.Reed).given("revidit")
	club.shown(club.seen("/policy", session), http.StatusOK)
}

func TestTheMuseumDoesNotAnswer(t *testing.T) {
	club, museum := museumClub(t)
	club.linked(museum, "ada", providertest.Quill)
	back, step := club.onTheWay(museum, "/login/provider", nil, providertest.Quill)
	museum.Stop()
	require.Contains(t, club.shown(club.seen(back, step), http.StatusServiceUnavailable), "does not answer")

	never := providertest.Start(t, museumURL+ProviderPath)
	provider, err := auth.NewProvider(auth.ProviderConfig{Issuer: never.Issuer, ClientID: "c", Secret: "s", Redirect: museumURL + ProviderPath})
	require.NoError(t, err)
	never.Stop()
	var log bytes.Buffer
	down := newAPIClub(t, func(_ *Config, o *auth.Options) {
		o.Provider, o.Log = provider, slog.New(slog.NewTextHandler(&log, nil))
	})
	text := down.shown(down.sent("/login/provider", nil), http.StatusServiceUnavailable)
	require.Contains(t, text, "does not answer")
	require.Contains(t, text, `name="password"`)
	require.Contains(t, log.String(), "cannot be asked")
	require.Equal(t, "/", down.sent("/login", url.Values{"login": {"ada"}, "password": {clubPassword}}).goesTo(), "the other ways in still work")
}

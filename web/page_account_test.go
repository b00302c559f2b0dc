package web

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

var shownLink = regexp.MustCompile(`http://example\.com(/(?:join|password)/[A-Z2-7]{26})`)

// linkIn is the path of the link that a page shows.
func linkIn(t testing.TB, text string) string {
	t.Helper()
	found := shownLink.FindStringSubmatch(text)
	require.NotNil(t, found, text)
	return found[1]
}

func (c *apiClub) invite(fields url.Values) string {
	c.t.Helper()
	return linkIn(c.t, c.shown(c.post("cora", "/invitations", fields), http.StatusOK))
}

func TestSomebodyIsInvited(t *testing.T) {
	club := newAPIClub(t)
	require.NotContains(t, club.page("ada", "/people", 200), "/invitations")
	require.Contains(t, club.page("cora", "/people", 200), `href="/invitations"`)
	club.page("ada", "/invitations", http.StatusForbidden)
	club.shown(club.post("rita", "/invitations", url.Values{"role": {"curator"}}), http.StatusForbidden)
	wrong := club.shown(club.post("cora", "/invitations", url.Values{"role": {"emperor"}, "address": {"nowhere"}}), http.StatusBadRequest)
	require.Contains(t, wrong, "is no address for mail")

	path := club.invite(url.Values{"name": {"Ivo Käfer"}, "role": {"reviewer"}})
	list := club.page("cora", "/invitations", 200)
	require.Contains(t, list, "Ivo Käfer")
	require.NotContains(t, list, path, "a link is shown once")
	require.Contains(t, club.page("", path, 200), `value="Ivo Käfer"`)
	again := club.shown(club.post("", path, url.Values{"name": {"Ivo K."}, "login": {"ivo"}, "password": {"short"}}), http.StatusBadRequest)
	require.Contains(t, again, "Must have at least 12 letters")
	require.NotContains(t, again, `value="short"`)
	require.Contains(t, club.shown(club.post("", path, url.Values{"name": {"Ivo K."}, "login": {"ada"}, "password": {clubPassword}}), http.StatusConflict), "choose another login")

	joined := club.post("", path, url.Values{"name": {"Ivo K."}, "login": {"ivo"}, "password": {clubPassword}})
	require.Equal(t, "/", joined.goesTo())
	cookie, err := http.ParseSetCookie(joined.header.Get("Set-Cookie"))
	require.NoError(t, err)
	me, err := club.server.Accounts.Actor(t.Context(), cookie.Value)
	require.NoError(t, err)
	require.Equal(t, review.RoleReviewer, me.Role)
	require.Equal(t, "Ivo K.", me.Name)
	require.Contains(t, club.page("", path, http.StatusNotFound), "used already")
	club.shown(club.post("", path, url.Values{"name": {"X"}, "login": {"xaver"}, "password": {clubPassword}}), http.StatusNotFound)
	club.page("", "/join/"+strings.Repeat("A", 26), http.StatusNotFound)
}

func TestInvitationsAreTakenBackAndRenewed(t *testing.T) {
	club := newAPIClub(t)
	first := club.invite(url.Values{"role": {"member"}})
	id := regexp.MustCompile(`/invitations/([^/"]+)/link`).FindStringSubmatch(club.page("cora", "/invitations", 200))[1]
	club.shown(club.post("ada", "/invitations/"+id+"/link", nil), http.StatusForbidden)
	second := linkIn(t, club.shown(club.post("carl", "/invitations/"+id+"/link", nil), http.StatusOK))
	club.page("", first, http.StatusNotFound)
	club.page("", second, http.StatusOK)
	require.Equal(t, "/invitations", club.post("cora", "/invitations/"+id+"/remove", nil).goesTo())
	club.page("", second, http.StatusNotFound)
	club.shown(club.post("cora", "/invitations/"+id+"/remove", nil), http.StatusNotFound)
}

// Nobody learns which logins or addresses have an account: the answer is the same to the letter, and so is what is stored, which
// models/modelstest looks at.
func TestAskingForAnotherPasswordTellsNothing(t *testing.T) {
	without := newAPIClub(t)
	require.Contains(t, without.page("", "/password", 200), "This club sends no mail")
	require.NotContains(t, without.page("", "/password", 200), "<form method=\"post\" action=\"/password\"")
	club := newAPIClub(t, func(_ *Config, o *auth.Options) { o.Mails = true })
	var texts []string
	for _, typed := range []string{"ada", "nobody", "ada@example.org"} {
		answer := club.post("", "/password", url.Values{"login": {typed}})
		require.Equal(t, "/password?asked=yes", answer.goesTo(), typed)
		texts = append(texts, club.page("", "/password?asked=yes", 200))
	}
	require.Equal(t, texts[0], texts[1])
	require.Equal(t, texts[0], texts[2])
	club.shown(club.post("", "/password", url.Values{"login": {""}}), http.StatusBadRequest)
	// Each is counted by what was typed, whether there is such an account or not.
	for _, typed := range []string{"ada", "nobody"} {
		club.post("", "/password", url.Values{"login": {typed}})
		club.post("", "/password", url.Values{"login": {strings.ToUpper(typed)}})
		club.shown(club.post("", "/password", url.Values{"login": {typed}}), http.StatusTooManyRequests)
	}
}

func TestACuratorHandsOverAResetLink(t *testing.T) {
	club := newAPIClub(t)
	desk := "/people/" + club.people["ada"] + "/account"
	club.page("rita", desk, http.StatusForbidden)
	club.shown(club.post("ada", desk+"/link", nil), http.StatusForbidden)
	path := linkIn(t, club.shown(club.post("cora", desk+"/link", nil), http.StatusOK))
	club.page("", path, http.StatusOK)
	require.Contains(t, club.shown(club.post("", path, url.Values{"password": {"ada"}}), http.StatusBadRequest), "Must have at least")
	const other = "elytra are hardened wings"
	require.Equal(t, "/login?set=yes", club.post("", path, url.Values{"password": {other}}).goesTo())
	require.Contains(t, club.page("", "/login?set=yes", 200), "The password is set")
	club.call("ada", "GET", "/api/v1/me", nil).is(http.StatusUnauthorized)
	club.call("", "POST", "/api/v1/sessions", map[string]any{"login": "ada", "password": clubPassword}).is(http.StatusUnauthorized)
	club.call("", "POST", "/api/v1/sessions", map[string]any{"login": "ada", "password": other}).is(http.StatusCreated)
	club.page("", path, http.StatusNotFound)
	require.NotContains(t, club.log.String(), strings.TrimPrefix(path, pages.ResetPath), "no link is in the log")
}

func TestMyLogin(t *testing.T) {
	club := newAPIClub(t)
	firefox := []string{"Content-Type", "application/x-www-form-urlencoded", "User-Agent", "Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0"}
	for range 2 {
		club.call("", "POST", "/login", "login=ada&password="+url.QueryEscape(clubPassword), firefox...)
	}
	text := club.page("ada", "/account", 200)
	require.Equal(t, 2, strings.Count(text, "Firefox on Linux\n")+strings.Count(text, "Firefox on Linux<br>")+strings.Count(text, "Firefox on Linux <br>"), text)
	require.Contains(t, text, "A program")
	require.Equal(t, 1, strings.Count(text, "This one"))
	id := regexp.MustCompile(`/account/logins/([^/"]+)/end`).FindStringSubmatch(text)[1]
	club.shown(club.post("ben", "/account/logins/"+id+"/end", nil), http.StatusNotFound)
	require.Equal(t, "/account?done=one", club.post("ada", "/account/logins/"+id+"/end", nil).goesTo())
	require.Len(t, decoded[sessionList](club.call("ada", "GET", "/api/v1/me/sessions", nil).is(http.StatusOK)).Items, 2)

	wrong := club.shown(club.post("ada", "/account/password", url.Values{"present": {"not it"}, "password": {"elytra are hardened wings"}}), http.StatusBadRequest)
	require.Contains(t, wrong, "Is not your password")
	require.Equal(t, "/account?done=password", club.post("ada", "/account/password", url.Values{"present": {clubPassword}, "password": {"elytra are hardened wings"}}).goesTo())
	left := decoded[sessionList](club.call("ada", "GET", "/api/v1/me/sessions", nil).is(http.StatusOK)).Items
	require.Len(t, left, 1, "this login goes on, all others have ended")
	require.True(t, left[0].This)
	club.call("", "POST", "/api/v1/sessions", map[string]any{"login": "ada", "password": "elytra are hardened wings"}).is(http.StatusCreated)
	require.Equal(t, "/account?done=others", club.post("ada", "/account/logins/end", nil).goesTo())
	require.Len(t, decoded[sessionList](club.call("ada", "GET", "/api/v1/me/sessions", nil)).Items, 1)
}

// A login takes the place of the one that the browser had; others go on.
func TestALoginEndsTheOneBefore(t *testing.T) {
	club := newAPIClub(t)
	form := url.Values{"login": {"ada"}, "password": {clubPassword}}
	first := club.sent("/login", form).given("revidit")
	elsewhere := club.sent("/login", form).given("revidit")
	club.shown(club.seen("/account", first), http.StatusOK)
	second := club.sent("/login", form, first).given("revidit")
	club.call("", "GET", "/api/v1/me", nil, "Cookie", first).is(http.StatusUnauthorized)
	for _, cookie := range []string{second, elsewhere} {
		club.call("", "GET", "/api/v1/me", nil, "Cookie", cookie).is(http.StatusOK)
	}
}

type sessionList struct{ Items []LoginSession }

// A login that nobody uses ends; one that is used goes on to its end.
func TestUnusedLoginsEnd(t *testing.T) {
	now := time.Now()
	club := newAPIClub(t, func(_ *Config, o *auth.Options) {
		o.Now, o.IdleLimit = func() time.Time { return now }, time.Hour
	})
	login := func(who string) string {
		token, _, err := club.server.Accounts.Login(t.Context(), who, clubPassword, "192.0.2.7")
		require.NoError(t, err)
		return token
	}
	used, unused := login("ada"), login("ben")
	for range 3 {
		now = now.Add(50 * time.Minute)
		_, err := club.server.Accounts.Actor(t.Context(), used)
		require.NoError(t, err)
	}
	_, err := club.server.Accounts.Actor(t.Context(), unused)
	require.Equal(t, review.KindUnknownActor, review.KindOf(err))
	now = now.Add(61 * time.Minute)
	_, err = club.server.Accounts.Actor(t.Context(), used)
	require.Equal(t, review.KindUnknownActor, review.KindOf(err))
}

func TestTheDeskOfACurator(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	club.call("rita", "POST", at(v, "/hold"), nil).is(http.StatusOK)
	desk := "/people/" + club.people["rita"] + "/account"
	text := club.page("cora", desk, 200)
	require.Contains(t, text, "rita")
	require.Contains(t, text, "/submissions/"+v.Submission.ID)
	require.Equal(t, desk+"?done=holds", club.post("cora", desk+"/holds", nil).goesTo())
	require.Contains(t, club.page("cora", desk+"?done=holds", 200), "Nothing is held")

	require.Contains(t, club.shown(club.post("cora", desk+"/suspend", url.Values{}), http.StatusBadRequest), "Must be filled in")
	require.Equal(t, desk+"?done=suspend", club.post("cora", desk+"/suspend", url.Values{"reason": {"asked for a rest"}}).goesTo())
	club.call("rita", "GET", "/api/v1/me", nil).is(http.StatusUnauthorized)
	require.Contains(t, club.page("cora", "/people", 200), "suspended")
	require.Equal(t, desk+"?done=readmit", club.post("cora", desk+"/readmit", url.Values{"reason": {"is back"}}).goesTo())
	require.Equal(t, desk+"?done=role", club.post("cora", desk+"/role", url.Values{"role": {"member"}, "reason": {"asked for it"}}).goesTo())
	delete(club.tokens, "rita")
	require.Equal(t, review.RoleMember, decoded[review.Person](club.call("rita", "GET", "/api/v1/me", nil).is(http.StatusOK)).Role)
	require.Equal(t, desk+"?done=logins", club.post("cora", desk+"/logins", url.Values{"reason": {"a lost telephone"}}).goesTo())
	club.call("rita", "GET", "/api/v1/me", nil).is(http.StatusUnauthorized)

	own := "/people/" + club.people["cora"] + "/account"
	for _, act := range []string{"suspend", "role", "erase"} {
		club.shown(club.post("cora", own+"/"+act, url.Values{"reason": {"x"}, "role": {"member"}, "login": {"cora"}, "sure": {"yes"}}), http.StatusForbidden)
	}
	for _, act := range []string{"suspend", "readmit", "role", "logins", "holds", "erase"} {
		club.shown(club.post("ada", desk+"/"+act, url.Values{"reason": {"x"}, "role": {"member"}, "login": {"rita"}, "sure": {"yes"}}), http.StatusForbidden)
	}
	require.Contains(t, club.shown(club.post("cora", desk+"/erase", url.Values{"reason": {"asked"}, "login": {"ada"}, "sure": {"yes"}}), http.StatusBadRequest), "not the login of this person")
	club.shown(club.post("cora", desk+"/erase", url.Values{"reason": {"asked"}, "login": {"rita"}}), http.StatusBadRequest)
	require.Equal(t, "/people/"+club.people["rita"], club.post("cora", desk+"/erase", url.Values{"reason": {"asked for it"}, "login": {"Rita"}, "sure": {"yes"}}).goesTo())
	require.Contains(t, club.page("cora", "/people/"+club.people["rita"], 200), "The name was erased")
	club.page("cora", desk, http.StatusNotFound)
}

// What somebody holds is passed on to somebody who may review it, and to nobody else; all that is chosen, or nothing.
func TestHeldWorkIsPassedOn(t *testing.T) {
	club := newAPIClub(t)
	first, second := club.submitted(), club.submitted()
	hold := func(who string) {
		for _, v := range []service.SubmissionView{first, second} {
			club.call(who, "POST", at(v, "/hold"), nil).is(http.StatusOK)
		}
	}
	hold("rita")
	desk := "/people/" + club.people["rita"] + "/account"
	require.Contains(t, club.page("cora", desk, 200), "Pass held work on")
	pass := func(who, to string, reason string, chosen ...service.SubmissionView) *reply {
		fields := url.Values{"to": {club.people[to]}, "reason": {reason}}
		for _, v := range chosen {
			fields.Add("submissions", v.Submission.ID)
		}
		return club.post(who, desk+"/pass", fields)
	}
	club.shown(pass("ada", "rolf", "away", first), http.StatusForbidden)
	club.shown(pass("rolf", "rolf", "away", first), http.StatusForbidden)
	require.Contains(t, club.shown(pass("cora", "rolf", "", first), http.StatusBadRequest), "Must be filled in")
	require.Contains(t, club.shown(pass("cora", "rolf", "away"), http.StatusBadRequest), "at least one")
	require.Contains(t, club.shown(pass("cora", "rita", "away", first), http.StatusBadRequest), "Holds it already")
	require.Contains(t, club.shown(pass("cora", "nobody", "away", first), http.StatusBadRequest), "can log in")
	for _, to := range []string{"ada", "ben"} { // the owner, and a member
		require.Contains(t, club.shown(pass("cora", to, "away", first, second), http.StatusConflict), "may not take over")
	}
	families := "/api/v1/people/" + club.people["rolf"] + "/families"
	club.call("cora", "PUT", families, map[string]any{"families": []string{"Buprestidae"}, "reason": "reads these"}).is(http.StatusNoContent)
	require.Contains(t, club.shown(pass("cora", "rolf", "away", first, second), http.StatusConflict), "may not take over")
	club.call("cora", "PUT", families, map[string]any{"families": []string{}, "reason": "reads all"}).is(http.StatusNoContent)

	held := func() []string {
		account := decoded[AccountView](club.call("cora", "GET", "/api/v1"+desk, nil).is(http.StatusOK))
		return slices.Sorted(slices.Values(account.Held))
	}
	club.call("rita", "DELETE", at(second, "/hold"), nil).is(http.StatusOK)
	require.Contains(t, club.shown(pass("cora", "rolf", "away", first, second), http.StatusBadRequest), "none was passed on")
	require.Equal(t, []string{first.Submission.ID}, held(), "all or nothing")
	hold("rita")
	require.Len(t, held(), 2)

	require.Equal(t, desk+"?done=pass", pass("cora", "rolf", "on a journey", first, second).goesTo())
	require.Empty(t, held())
	for _, v := range []service.SubmissionView{first, second} {
		club.call("rita", "POST", at(v, "/reviews"), agrees).is(http.StatusConflict)
		history := club.page("carl", "/submissions/"+v.Submission.ID+"/history", 200)
		require.Contains(t, history, "on a journey")
		require.Contains(t, history, "passed the hold on to")
		require.Contains(t, history, "Name of rolf")
		club.call("rolf", "POST", at(v, "/reviews"), agrees).is(http.StatusOK)
	}
	club.shown(pass("cora", "rolf", "away", first), http.StatusBadRequest) // rita holds nothing any more
}

// The examples are what browsers send (from memory of their documentation): each also names others.
func TestBrowsersInPlainWords(t *testing.T) {
	for agent, want := range map[string]string{
		"Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0.0.0 Safari/537.36 Edg/140.0.0.0": "edge windows",
		"Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0.0.0 Mobile Safari/537.36":               "chrome android",
		"Mozilla/5.0 (iPhone; CPU iPhone OS 18_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/18.5 Safari/604.1":     "safari ios",
		"Mozilla/5.0 (Macintosh; Intel Mac OS X 10.15; rv:140.0) Gecko/20100101 Firefox/140.0":                                          "firefox macos",
		"curl/8.5.0": "other other",
		"":           "",
	} {
		require.Equal(t, want, browserOf(agent), agent)
	}
}

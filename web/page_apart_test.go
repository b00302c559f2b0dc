package web

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
)

// hostileText is written from right to left, ends in a number, and turns round what follows it (U+202E).
const hostileText = "אבג 12\u202E"

var (
	standsApart = regexp.MustCompile(`(?s)<bdi>[^<]*</bdi>|<textarea[^>]*>[^<]*</textarea>| value="[^"]*"|\x{2068}[^\x{2069}<]*\x{2069}`)
	fromRight   = regexp.MustCompile(`[\x{0590}-\x{08FF}]`)
	turnRound   = regexp.MustCompile(`[\x{202A}-\x{202E}\x{2066}-\x{2069}]`)
)

// requireApart requires that a page shows what was typed, and that none of it can reorder what stands beside it.
func requireApart(t testing.TB, path, page string) {
	t.Helper()
	require.Contains(t, page, "אבג", path)
	require.NotContains(t, page, "\uFDD0")
	require.NotContains(t, page, "\uFDD1")
	rest := standsApart.ReplaceAllString(page, "")
	require.NotRegexp(t, fromRight, rest, path)
	require.NotRegexp(t, turnRound, rest, path)
	for _, bdi := range regexp.MustCompile(`<bdi>[^<]*</bdi>`).FindAllString(page, -1) {
		require.NotRegexp(t, turnRound, bdi, path)
	}
}

func TestWhatIsTypedStandsApart(t *testing.T) {
	club := newAPIClub(t)
	for login, role := range map[string]review.Role{"dov": review.RoleMember, "noa": review.RoleReviewer, "gal": review.RoleCurator} {
		account, err := club.server.Accounts.Create(t.Context(), login, hostileText+" "+login, role, clubPassword)
		require.NoError(t, err)
		club.people[login] = account.Person
	}
	form := club.form("dov")
	form["label"] = map[string]any{"catalogue_number": hostileText, "trip": hostileText, "storage_place": hostileText, "country": hostileText}
	form["withheld"] = map[string]any{"locality": hostileText, "collector": hostileText}
	form["remarks"], form["scientific_name"] = hostileText, "Agriotes "+hostileText
	form["observations"] = []any{map[string]any{"character": "ventrites", "state": "9"}}
	v := club.call("dov", "POST", "/api/v1/submissions", form).is(http.StatusCreated).view()
	path, specimen := "/submissions/"+v.Submission.ID, "/specimens/"+v.Specimen.ID
	requireApart(t, "queue", club.page("noa", "/queue", 200))
	club.call("noa", "POST", at(v, "/reviews"), map[string]any{"verdicts": []any{map[string]any{"observation": v.Submission.Cites[0], "kind": "dispute", "note": hostileText}},
		"opinion": map[string]any{"kind": "left-open", "basis": "photos", "note": hostileText}}).is(http.StatusOK)
	club.call("noa", "POST", at(v, "/hold"), nil).is(http.StatusOK)
	club.call("gal", "PUT", "/api/v1/policy", policyBody("reason", hostileText, "experts", map[string]any{"Elateridae": []string{club.people["noa"]}})).is(http.StatusOK)

	for _, page := range []string{"/", "/submissions", "/submissions?q=" + url.QueryEscape("אבג"), "/submissions?family=" + url.QueryEscape(hostileText),
		"/queue?trip=" + url.QueryEscape(hostileText), path, path + "/history", path + "/redetermine", specimen, specimen + "/label", "/policy"} {
		r := club.call("gal", "GET", page, nil)
		if r.status == http.StatusOK {
			requireApart(t, page, club.shown(r, 200))
		}
	}
	requireApart(t, "held", club.page("rita", path, 200))
	requireApart(t, "review", club.page("noa", path+"/review", 200))
	requireApart(t, "an error", club.shown(club.call("gal", "GET", small+"/sheets/"+url.PathEscape(hostileText), nil), http.StatusNotFound))
	club.call("noa", "POST", at(v, "/returns"), map[string]any{"want": "specimen", "text": hostileText}).is(http.StatusOK)
	club.call("dov", "POST", at(v, "/answers"), map[string]any{"text": hostileText}).is(http.StatusOK)
	requireApart(t, "answered", club.page("gal", path, 200))
	requireApart(t, "history", club.page("gal", path+"/history", 200))

	change := changeFields(t)
	change.Set("note", hostileText)
	change.Set("reason", hostileText)
	requireApart(t, "preview", club.shown(club.post("gal", small+"/changes", withDo(change, "preview")), 200))
	made := club.post("gal", small+"/changes", change).goesTo()
	club.post("cora", made, url.Values{"version": {"1"}, "status": {"approved"}, "reason": {hostileText}}).goesTo()
	release := url.Values{"hash": change["hash"], "seen": {changeID(t, made)}, "version": {"2"}, "notes": {hostileText}}
	for _, page := range []string{made, small + "/changes", small + "/releases/new"} {
		requireApart(t, page, club.page("cora", page, 200))
	}
	club.post("gal", small+"/releases", release).goesTo()
	requireApart(t, "releases", club.page("ben", small+"/releases", 200))
	requireApart(t, "sheet", club.page("ben", small+"/sheets/Elateridae", 200))

	fields := club.submissionFields("dov")
	fields.Set("label.catalogue_number", hostileText)
	fields.Set("family", hostileText)
	text := club.shown(club.post("dov", "/submissions", fields), 400)
	requireApart(t, "a form that comes back", text)
	require.Regexp(t, `<input dir="auto" [^>]*value="`+regexp.QuoteMeta(hostileText)+`"`, text, "what was typed stays as it was, in a field that goes its own way")
	require.True(t, strings.Contains(text, `<html lang="en">`))
}

func withDo(fields url.Values, do string) url.Values {
	other := url.Values{}
	for name, values := range fields {
		other[name] = values
	}
	other.Set("do", do)
	return other
}

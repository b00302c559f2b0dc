package web

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

// routeCase is a route with a good body, and what each role gets that does not own the submission, which is Ada's and
// open: Ben (member), Rita (reviewer), Cora (curator).
type routeCase struct {
	method, path              string
	body                      any
	member, reviewer, curator int
}

var reason = map[string]any{"reason": "for the test"}

var routeCases = []routeCase{
	{"POST", "/submissions", map[string]any{"draft": true, "family": "Elateridae"}, 201, 201, 201},
	{"GET", "/submissions", nil, 200, 200, 200},
	{"GET", "/submissions/{id}", nil, 200, 200, 200},
	{"PUT", "/submissions/{id}", map[string]any{"family": "Elateridae"}, 403, 403, 403},
	{"GET", "/submissions/{id}/events", nil, 200, 200, 200},
	{"GET", "/submissions/{id}/as-of", nil, 200, 200, 200},
	{"GET", "/submissions/{id}/difference?from=1", nil, 404, 404, 404}, // before it had begun
	{"POST", "/submissions/{id}/submit", nil, 403, 403, 403},
	{"POST", "/submissions/{id}/hold", nil, 403, 200, 200},
	{"DELETE", "/submissions/{id}/hold", nil, 403, 409, 409},
	{"POST", "/submissions/{id}/reviews", agrees, 403, 200, 200},
	{"POST", "/submissions/{id}/replies", map[string]any{"kind": "excluded", "character": "ventrites", "state": "5", "reason": "no"}, 403, 400, 400},
	{"POST", "/submissions/{id}/returns", map[string]any{"want": "specimen", "text": "send it"}, 403, 200, 200},
	{"POST", "/submissions/{id}/answers", map[string]any{"text": "here"}, 403, 403, 403},
	{"POST", "/submissions/{id}/settlement", reason, 403, 403, 403},
	{"POST", "/submissions/{id}/undetermination", reason, 403, 200, 200},
	{"POST", "/submissions/{id}/withdrawal", reason, 403, 403, 403},
	{"POST", "/submissions/{id}/redeterminations", map[string]any{"family": "Buprestidae", "reason": "plates"}, 403, 201, 201},
	{"POST", "/submissions/{id}/reopening", reason, 403, 403, 409},
	{"POST", "/submissions/{id}/audit", reason, 403, 403, 200},
	{"POST", "/submissions/{id}/upholding", reason, 403, 403, 409},
	{"POST", "/submissions/{id}/slip", nil, 403, 409, 409}, // who has said nothing has none
	{"DELETE", "/submissions/{id}/slip", nil, 403, 409, 409},
	// Nobody is drawn; api_blind_test.go has those who are.
	{"GET", "/submissions/{id}/blind", nil, 409, 409, 409},
	{"POST", "/submissions/{id}/blind", map[string]any{"state": "5"}, 409, 409, 409},
	{"POST", "/submissions/{id}/panel", map[string]any{"family": "Elateridae"}, 409, 409, 409},
	{"POST", "/submissions/{id}/panel/leave", nil, 409, 409, 409},
	{"GET", "/queue", nil, 403, 200, 200},
	{"GET", "/queue/live", nil, 403, 200, 200}, // over a connection it goes on: live_test.go
	{"GET", "/counts", nil, 200, 200, 200},
	{"GET", "/specimens/{specimen}", nil, 200, 200, 200},
	{"GET", "/specimens/{specimen}/dossier", nil, 200, 200, 200},
	{"PUT", "/specimens/{specimen}/label", map[string]any{"label": map[string]any{}, "withheld": map[string]any{}, "reason": "typing error"}, 403, 403, 200},
	{"POST", "/photos", "a photo", 201, 201, 201},
	{"GET", "/photos/{photo}/display", nil, 200, 200, 200},
	{"GET", "/policy", nil, 200, 200, 200},
	{"PUT", "/policy", policyBody(), 403, 403, 200},
	{"GET", "/permissions", nil, 200, 200, 200},
	{"GET", "/machines", nil, 403, 403, 200},
	{"POST", "/machines", map[string]any{"name": "Scanner", "purpose": "photos", "scopes": []string{"read"}, "days": 1}, 403, 403, 201},
	{"DELETE", "/machines/tokens/none?reason=test", nil, 403, 403, 404},
	{"PUT", "/people/{reviewer}/families", map[string]any{"families": []string{}, "reason": "reads all"}, 403, 403, 204},
	{"GET", "/people", nil, 200, 200, 200},
	{"GET", "/me", nil, 200, 200, 200},
	{"GET", "/people/none", nil, 403, 403, 404},
	{"GET", "/collection/changes?which=settled", nil, 403, 403, 200},
	{"GET", "/reports/determinations?by=drawer", nil, 403, 403, 200},
	{"GET", "/reports/year", nil, 403, 403, 200},
	{"GET", "/searches", nil, 200, 200, 200},
	{"POST", "/searches", map[string]any{"name": "mine", "query": "family=Carabidae"}, 201, 201, 201},
	{"DELETE", "/searches/none", nil, 404, 404, 404},
	{"GET", "/families", nil, 200, 200, 200},
	{"GET", "/families/Elateridae", nil, 200, 200, 200},
	{"GET", "/characters", nil, 200, 200, 200},
	{"GET", "/faunas", nil, 200, 200, 200},
	{"GET", "/families/Elateridae/comparison?with=Buprestidae", nil, 200, 200, 200},
	{"GET", "/key?family=Elateridae&family=Buprestidae", nil, 200, 200, 200},
	{"GET", "/characters/ventrites", nil, 200, 200, 200},
	{"GET", "/parts", nil, 200, 200, 200},
	{"GET", "/pictures/eyes/notched.svg", nil, 404, 404, 404}, // these tables have no drawings
	{"GET", "/groups", nil, 200, 200, 200},
	{"GET", "/groups/small-test-group/releases", nil, 200, 200, 200},
	{"GET", "/groups/small-test-group/releases/{release}", nil, 200, 200, 200},
	{"POST", "/groups/small-test-group/changes/preview", map[string]any{"edit": platesEdit}, 403, 403, 200},
	{"POST", "/groups/small-test-group/changes", map[string]any{"edit": platesEdit, "reason": "counted"}, 403, 403, 201},
	{"GET", "/groups/small-test-group/changes", nil, 403, 403, 200},
	{"GET", "/groups/small-test-group/changes/{change}", nil, 403, 403, 200},
	{"POST", "/groups/small-test-group/changes/{change}/decision", map[string]any{"status": "approved", "reason": "so it is"}, 403, 403, 200},
	{"GET", "/groups/small-test-group/release-preview", nil, 403, 403, 200},
	{"GET", "/groups/small-test-group/reassessments", nil, 403, 403, 200},
	{"POST", "/groups/small-test-group/reassessments", map[string]any{"confidence": 0.998}, 403, 403, 201},
	{"GET", "/groups/small-test-group/reassessments/{reassessment}", nil, 403, 403, 200},
	{"GET", "/groups/small-test-group/reassessments/{reassessment}/touched?effect=below-confidence&cause=threshold", nil, 403, 403, 200},
	{"POST", "/groups/small-test-group/reassessments/{reassessment}/reviews", map[string]any{"groups": []map[string]string{{"effect": "below-confidence", "cause": "threshold"}}, "reason": "too unsure"}, 403, 403, 204},
	{"GET", "/archive?title=A&organization=B&license=https://creativecommons.org/publicdomain/zero/1.0/", nil, 403, 403, 200},
	{"GET", "/handovers", nil, 403, 403, 200},
	{"GET", "/intakes", nil, 403, 403, 200},
	{"POST", "/intakes", "an archive", 403, 403, 201},
	{"GET", "/intakes/{intake}", nil, 403, 403, 200},
	{"POST", "/intakes/{intake}/accept", nil, 403, 403, 200},
	{"POST", "/intakes/{intake}/reading", map[string]any{"header": 1}, 403, 403, 200},
	{"POST", "/intakes/{intake}/undo", map[string]any{"reason": "another club's"}, 403, 403, 200},
	{"POST", "/specimens/{specimen}/vouching", map[string]any{"determination": "{id}", "verification": "3", "reason": "revision"}, 403, 403, 200},
	{"POST", "/specimens/{specimen}/publication", publishBody("{photo}"), 403, 403, 200},
	{"POST", "/specimens/{specimen}/publication/end", map[string]any{"photos": []string{"{photo}"}, "reason": "asked back"}, 403, 403, 400}, // none is published
	{"POST", "/groups/small-test-group/releases", map[string]any{"version": "2"}, 403, 403, 201},
	{"POST", "/groups/small-test-group/imports", "an archive", 403, 403, 201},
	{"POST", "/assessments", map[string]any{"observations": map[string]any{"ventrites": 5}}, 200, 200, 200},
	{"GET", "/series", nil, 200, 200, 200},
	{"POST", "/series", nil, 201, 403, 403},
	{"GET", "/series/{series}", nil, 404, 200, 200},
	{"GET", "/series/{series}/seen", nil, 403, 403, 200},
	{"POST", "/series/{series}/mentor", map[string]any{"mentor": ""}, 403, 200, 200},
	{"POST", "/series/{series}/giving-back", nil, 403, 404, 409}, // Cora mentors it by then, and something waits,
	{"POST", "/series/{series}/leaving", nil, 404, 404, 403},
	{"POST", "/series/{series}/end", map[string]any{"text": "well done"}, 403, 404, 409},
	{"GET", "/labels?set=slips&specimen=none", nil, 200, 200, 200},
	{"POST", "/sheets", map[string]any{"size": "18x7"}, 201, 201, 201},
	{"GET", "/sheets", nil, 200, 200, 200},
	{"GET", "/sheets/none", nil, 404, 404, 404},
	{"GET", "/sheets/none/pdf", nil, 404, 404, 404},
	{"GET", "/ledger", nil, 403, 403, 200},
	{"GET", "/proof", nil, 403, 403, 200},
	{"GET", "/submissions/{id}/proof?stream=submission/{id}&seq=1", nil, 403, 403, 404}, // nothing was signed
	{"GET", "/figures/agreement", nil, 403, 403, 200},
	{"GET", "/figures/calibration", nil, 403, 403, 200},
	{"GET", "/figures/reliability?version=0", nil, 200, 200, 200},
	{"POST", "/figures/reliability/refit", nil, 403, 403, 200},
	{"POST", "/figures/anew?which=agreement", nil, 403, 403, 200},
	{"GET", "/figures/work", nil, 403, 403, 200},
	{"GET", "/news?unread=true", nil, 200, 200, 200},
	{"POST", "/news/read", map[string]any{"until": "2026-05-01T00:00:00Z"}, 200, 200, 200},
	{"GET", "/me/mail", nil, 200, 200, 200},
	{"PUT", "/me/mail", map[string]any{"address": "a@b.example", "rhythm": "daily", "codes": []string{"returned"}}, 200, 200, 200},
	{"GET", "/me/sessions", nil, 200, 200, 200},
	{"DELETE", "/me/sessions/none", nil, 404, 404, 404},
	{"PUT", "/me/password", map[string]any{"present": "not it", "password": "elytra are hardened wings"}, 400, 400, 400},
	{"GET", "/invitations", nil, 403, 403, 200},
	{"POST", "/invitations", map[string]any{"role": "member"}, 403, 403, 201},
	{"POST", "/invitations/none/link", nil, 403, 403, 404},
	{"POST", "/invitations/none/taking-back", nil, 403, 403, 404},
	{"GET", "/people/none/account", nil, 403, 403, 404},
	{"POST", "/people/none/account/suspension", reason, 403, 403, 404},
	{"POST", "/people/none/account/readmission", reason, 403, 403, 404},
	{"POST", "/people/none/account/role", map[string]any{"role": "member", "reason": "asked"}, 403, 403, 404},
	{"POST", "/people/none/account/logins-end", reason, 403, 403, 404},
	{"POST", "/people/none/account/second-factor-removal", reason, 403, 403, 404},
	{"POST", "/people/none/account/museum-login-removal", reason, 403, 403, 404},
	{"POST", "/people/none/account/holds-end", nil, 403, 403, 204}, // nobody holds nothing
	{"POST", "/people/none/account/holds-passing", map[string]any{"to": "none", "submissions": []string{"none"}, "reason": "away"}, 403, 403, 400},
	{"POST", "/people/none/account/erasure", map[string]any{"login": "none", "reason": "asked"}, 403, 403, 404},
	{"POST", "/people/none/account/link", nil, 403, 403, 404},
	{"DELETE", "/sessions", nil, 204, 204, 204},
}

// publishBody publishes a photo.
func publishBody(photo string) map[string]any {
	return map[string]any{"photos": []string{photo}, "license": review.LicenceBY, "holder": "The club", "reason": "for the web page"}
}

// wordedByTest: a body that a test has worded itself.
func wordedByTest(body any) bool { _, ok := body.(string); return ok }

// template is the path of a case as the OpenAPI document has it.
func (r routeCase) template() string {
	path, _, _ := strings.Cut(r.path, "?")
	return strings.NewReplacer("{specimen}", "{id}", "{photo}/display", "{id}/{size}", "/Elateridae", "/{name}", "/ventrites", "/{id}",
		"/eyes/notched.svg", "/{character}/{file}", "/small-test-group", "/{group}", "/people/none", "/people/{id}", "/me/sessions/none", "/me/sessions/{id}", "/invitations/none", "/invitations/{invitation}", "/people/{reviewer}", "/people/{id}", "/machines/tokens/none", "/machines/tokens/{id}", "/searches/none", "/searches/{id}", "/sheets/none", "/sheets/{id}", "{release}", "{hash}", "{change}", "{id}", "{series}", "{id}", "{reassessment}", "{key}", "/intakes/{intake}", "/intakes/{intake}").Replace(path)
}

// ginPath is the path of a case as the router has it.
func ginPath(r routeCase) string {
	return apiPrefix + strings.NewReplacer("{", ":", "}", "").Replace(r.template())
}

// onSubmission says whether a case is about the submission, its specimen or its photo.
func (r routeCase) onSubmission() bool {
	return strings.Contains(r.path, "{id}") || strings.Contains(r.path, "{specimen}") || strings.Contains(r.path, "{photo}")
}

// bytes says whether a case sends something else than JSON.
func (r routeCase) bytes() bool {
	return r.path == "/photos" || strings.HasSuffix(r.path, "/imports") || r.path == "/intakes"
}

func (c *apiClub) try(r routeCase, who string, v service.SubmissionView, headers ...string) *reply {
	c.t.Helper()
	path := strings.NewReplacer("{id}", v.Submission.ID, "{specimen}", v.Submission.Specimen, "{photo}", v.Submission.Photos[0]).Replace(r.path)
	body := r.body
	switch {
	case r.path == "/photos":
		body, headers = picture(c.t, 2), append(headers, "Content-Type", "image/jpeg")
	case strings.HasSuffix(r.path, "/imports"):
		body, headers = zipped(c.t, edited(c.t, smallTables(), "group.yaml", `release: "1"`, `release: "3"`)), append(headers, "Content-Type", "application/zip")
	case r.path == "/intakes":
		body, headers = c.archive(), append(headers, "Content-Type", "application/zip")
	case strings.Contains(r.path, "{intake}"):
		path = strings.ReplaceAll(path, "{intake}", c.intakeFor(r.path))
	case strings.HasSuffix(r.path, "/vouching") && !wordedByTest(r.body):
		body = map[string]any{"determination": v.Submission.ID, "verification": "3", "reason": "revision"}
	case strings.HasSuffix(r.path, "/publication") && !wordedByTest(r.body):
		body = publishBody(v.Submission.Photos[0])
	case r.path == "/sheets" && r.method == "POST" && !wordedByTest(r.body):
		body = catalogueOrder(v)
	case strings.Contains(r.path, "{reviewer}"):
		path = strings.ReplaceAll(path, "{reviewer}", c.people["rolf"])
	case strings.Contains(r.path, "{change}"):
		path = strings.ReplaceAll(path, "{change}", c.proposed().ID)
	case strings.Contains(r.path, "{reassessment}"):
		path = strings.ReplaceAll(path, "{reassessment}", c.reassessed())
	case strings.Contains(r.path, "{series}"):
		path = strings.ReplaceAll(path, "{series}", c.waitingSeries())
	case strings.Contains(r.path, "{release}"):
		path = strings.ReplaceAll(path, "{release}", c.tablesInForce().Hash)
	case r.method == "POST" && strings.HasSuffix(r.path, "/releases"):
		c.approved()
	}
	return c.call(who, r.method, apiPrefix+path, body, headers...)
}

// catalogueOrder is one of the catalogue label of a submission's specimen.
func catalogueOrder(v service.SubmissionView) map[string]any {
	return map[string]any{"size": "", "paper": "", "labels": []map[string]any{{"kind": "catalogue", "specimen": v.Submission.Specimen}}}
}

func TestRolesOnEveryRoute(t *testing.T) {
	club := newAPIClub(t)
	club.waitingSeries() // Ada is no beginner any more at the end
	for _, r := range routeCases {
		t.Run(r.method+" "+r.path, func(t *testing.T) {
			for _, c := range []struct {
				who  string
				want int
			}{{"ben", r.member}, {"rita", r.reviewer}, {"cora", r.curator}} {
				v := club.submitted()
				club.try(r, c.who, v).is(c.want)
				if r.path == "/sessions" {
					club.try(routeCase{method: "GET", path: "/me"}, c.who, v).is(http.StatusUnauthorized)
					delete(club.tokens, c.who)
				}
			}
		})
	}
}

func TestNobodyOnEveryRoute(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	for _, r := range routeCases {
		t.Run(r.method+" "+r.path, func(t *testing.T) {
			got := club.try(r, "", v).is(http.StatusUnauthorized)
			require.Equal(t, "Bearer", got.header.Get("WWW-Authenticate"))
			// Nor with a token that is none: before the body or the thing is looked at.
			club.try(r, "", v, "Authorization", "Bearer x.y.z").is(http.StatusUnauthorized)
		})
	}
	require.Equal(t, v.Submission.Seq, club.call("ada", "GET", at(v, ""), nil).view().Submission.Seq)
}

// A draft is known to its owner alone: everybody else hears that there is none.
func TestDraftsOfOthersAreNotFound(t *testing.T) {
	club := newAPIClub(t)
	v := club.draft()
	for _, r := range routeCases {
		if !r.onSubmission() {
			continue
		}
		t.Run(r.method+" "+r.path, func(t *testing.T) {
			for _, who := range []string{"ben", "rita", "cora"} {
				want := http.StatusNotFound
				if act := actOfRoute[r.method+" "+ginPath(r)]; !review.OnSubmissions(act) && !review.Ever(club.actor(who), act) {
					want = http.StatusForbidden // their role never may, whatever is there
				}
				club.try(r, who, v).is(want)
			}
		})
	}
}

func TestUnknownThingsAreNotFound(t *testing.T) {
	club := newAPIClub(t)
	var v service.SubmissionView
	v.Submission.ID, v.Submission.Specimen, v.Submission.Photos = "none", "none", []string{"none"}
	for _, r := range routeCases {
		if r.onSubmission() {
			t.Run(r.method+" "+r.path, func(t *testing.T) { club.try(r, "cora", v).is(http.StatusNotFound) })
		}
	}
	club.call("ada", "GET", "/api/v1/families/Nonidae", nil).is(http.StatusNotFound)
	club.call("ada", "GET", "/api/v1/photos/"+club.upload("ada")+"/huge", nil).is(http.StatusNotFound)
}

// waitingSeries is a series of Ada's, begun where there is none yet.
func (c *apiClub) waitingSeries() string {
	c.t.Helper()
	lists, err := c.server.Service.FindSeries(c.t.Context(), c.actor("ada"))
	require.NoError(c.t, err)
	if len(lists.Own) > 0 {
		return lists.Own[0].ID
	}
	made, err := c.server.Service.BeginSeries(c.t.Context(), c.actor("ada"))
	require.NoError(c.t, err)
	return made.ID
}

// acting is who may do what on an open submission of Ada's, or on an open change of Carl's, for tests of bodies and
// headers.
func acting(r routeCase) string {
	if strings.Contains(r.path, "{change}") || strings.HasSuffix(r.path, "/vouching") || strings.Contains(r.path, "/publication") {
		return "cora"
	}
	if r.reviewer < 300 || r.path == "/submissions/{id}/replies" {
		return "rita"
	}
	return "ada"
}

func TestPreconditionsOnEveryChange(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	tag := club.call("rita", "GET", at(v, ""), nil).header.Get("ETag")
	require.NotEmpty(t, tag)
	for _, r := range routeCases {
		if r.method == "GET" || !strings.Contains(r.path, "{") || strings.Contains(r.path, "{series}") || strings.Contains(r.path, "{reviewer}") || strings.Contains(r.path, "{reassessment}") || strings.Contains(r.path, "{intake}") || r.reviewer == http.StatusConflict && r.curator == http.StatusConflict && r.path != "/submissions/{id}/hold" {
			continue
		}
		t.Run(r.method+" "+r.path, func(t *testing.T) {
			who := acting(r)
			club.try(r, who, v, "If-Match", `"99"`).is(http.StatusPreconditionFailed)
			club.try(r, who, v, "If-Match", `"0"`).is(http.StatusPreconditionFailed)
			club.try(r, who, v, "If-Match", `W/"1"`).is(http.StatusPreconditionFailed)
			club.try(r, who, v, "If-None-Match", "*").is(http.StatusPreconditionFailed)
			require.Equal(t, []string{"If-Match"}, club.try(r, who, v, "If-Match", "7").is(http.StatusBadRequest).fields())
		})
	}
	require.Equal(t, tag, club.call("rita", "GET", at(v, ""), nil).header.Get("ETag"), "nothing has changed")
}

func TestBodiesOnEveryRoute(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	for _, r := range routeCases {
		if r.body == nil || r.bytes() {
			continue
		}
		t.Run(r.method+" "+r.path, func(t *testing.T) {
			who := "cora"
			with := func(body any) routeCase { return routeCase{method: r.method, path: r.path, body: body} }
			text, err := json.Marshal(r.body)
			require.NoError(t, err)
			unknown := strings.TrimSuffix(string(text), "}") + `,"surplus":1}`
			require.Contains(t, club.try(with(unknown), who, v).is(http.StatusBadRequest).fields(), "surplus")
			require.Equal(t, []string{"body"}, club.try(with(string(text)+"x"), who, v).is(http.StatusBadRequest).fields())
			require.Equal(t, []string{"body"}, club.try(with(""), who, v).is(http.StatusBadRequest).fields())
			club.try(with("[]"), who, v).is(http.StatusBadRequest)
			club.try(with(strings.Replace(string(text), `":`, "\xff\":", 1)), who, v).is(http.StatusBadRequest)
			club.try(with(`{"reason":"a\u0000b"}`), who, v).is(http.StatusBadRequest)
			club.try(with(string(text)), who, v, "Content-Type", "text/plain").is(http.StatusUnsupportedMediaType)
			club.try(with(`{"reason":"`+strings.Repeat("x", maxTextBody)+`"}`), who, v).is(http.StatusRequestEntityTooLarge)
		})
	}
	require.Equal(t, v.Submission.Seq, club.call("ada", "GET", at(v, ""), nil).view().Submission.Seq)
}

func TestQueriesAreChecked(t *testing.T) {
	club := newAPIClub(t)
	for query, field := range map[string]string{"size=0": "size", "size=201": "size", "size=many": "size", "status=lost": "status",
		"colour=red": "colour", "text=%00": "text", "text=%ff": "text", "doubtful=perhaps": "doubtful", "family=%zz": "query",
		"cursor=made-up": "cursor"} {
		t.Run(query, func(t *testing.T) {
			require.Equal(t, []string{field}, club.call("ada", "GET", "/api/v1/submissions?"+query, nil).is(http.StatusBadRequest).fields())
		})
	}
	require.Equal(t, []string{"cursor"}, club.call("rita", "GET", "/api/v1/queue?cursor=made-up", nil).is(http.StatusBadRequest).fields())
}

func TestDocument(t *testing.T) {
	club := newAPIClub(t)
	got := club.call("", "GET", "/api/v1/openapi.json", nil).is(http.StatusOK)
	require.Equal(t, "application/openapi+json", got.header.Get("Content-Type"))
	doc := decoded[struct {
		OpenAPI string
		Info    struct{ Title, Version string }
		Servers []struct{ URL string }
		Paths   map[string]map[string]struct {
			OperationID string
			Summary     string
			Security    []map[string][]string
			Responses   map[string]struct{ Content map[string]any }
			Permission  struct {
				Act  review.Action
				Rows []review.Permission
			} `json:"x-permission"`
		}
	}](got)
	require.Equal(t, "3.1.0", doc.OpenAPI)
	require.Equal(t, "Revidit", doc.Info.Title)
	require.Equal(t, "/api/v1", doc.Servers[0].URL)

	cased := map[string]bool{"post /sessions": true, "post /sessions/refresh": true}
	for _, r := range routeCases {
		cased[strings.ToLower(r.method)+" "+r.template()] = true
	}
	routes, ids := 0, map[string]bool{}
	for _, r := range club.engine.Routes() {
		path, ours := strings.CutPrefix(r.Path, apiPrefix)
		if !ours || path == "/" || strings.HasPrefix(path, "/openapi.") { // the last three are what is told of the others
			continue
		}
		routes++
		parts := strings.Split(path, "/")
		for i, part := range parts {
			if name, ok := strings.CutPrefix(part, ":"); ok {
				parts[i] = "{" + name + "}"
			}
		}
		path, method := strings.Join(parts, "/"), strings.ToLower(r.Method)
		require.Contains(t, doc.Paths, path)
		require.Contains(t, doc.Paths[path], method)
		require.True(t, cased[method+" "+path], "%s %s is in no table of this test", method, path)
		o := doc.Paths[path][method]
		require.NotEmpty(t, o.Summary)
		require.NotContains(t, ids, o.OperationID)
		ids[o.OperationID] = true
		require.NotContains(t, o.Responses, "422")
		require.Equal(t, actOfRoute[r.Method+" "+r.Path], o.Permission.Act)
		if o.Permission.Act != "" {
			require.Equal(t, review.PermissionsOf(o.Permission.Act), o.Permission.Rows)
		}
		require.Equal(t, strings.HasPrefix(path, "/sessions") && method == "post", len(o.Security) == 0)
		for status, response := range o.Responses {
			if status >= "400" {
				require.Contains(t, response.Content, "application/problem+json")
			}
		}
	}
	require.Equal(t, len(cased), routes, "a route of the tables does not exist")
	require.NotContains(t, string(got.body), "$schema")
	yaml := club.call("", "GET", "/api/v1/openapi.yaml", nil).is(http.StatusOK)
	require.Contains(t, string(yaml.body), "openapi: 3.1.0")
}

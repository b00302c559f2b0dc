package web

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

// changeCase is a change that somebody may make of a submission, and what it needs before.
type changeCase struct {
	routeCase
	who     string
	prepare func(c *apiClub) service.SubmissionView
}

// unkeyed are operations that store nothing, or whose repetition a key could not serve: a login makes a secret, as a token of a machine is one, and its end
// ends the login that would ask again. To revoke a token, or to name the same families, twice is the same as once.
var unkeyed = []string{"POST /sessions", "DELETE /sessions", "POST /assessments", "POST /searches", "DELETE /searches/none", "POST /groups/small-test-group/changes/preview",
	"POST /machines", "DELETE /machines/tokens/none?reason=test", "PUT /people/{reviewer}/families",
	"DELETE /me/sessions/none", "PUT /me/password", "POST /invitations", "POST /invitations/none/link", "POST /people/none/account/link"}

// changesOfAll are all routes that change something, each by somebody who may.
func changesOfAll(t testing.TB) []changeCase {
	t.Helper()
	opened := func(c *apiClub) service.SubmissionView { return c.submitted() }
	prepared := map[string]changeCase{
		"PUT /submissions/{id}":             {who: "ada", prepare: (*apiClub).draft},
		"POST /submissions/{id}/submit":     {who: "ada", prepare: (*apiClub).draft},
		"POST /submissions/{id}/answers":    {who: "ada"},
		"POST /submissions/{id}/withdrawal": {who: "ada"},
		"DELETE /submissions/{id}/hold": {who: "rita", prepare: func(c *apiClub) service.SubmissionView {
			v := c.submitted()
			return c.call("rita", "POST", at(v, "/hold"), nil).is(http.StatusOK).view()
		}},
		"POST /submissions/{id}/replies": {who: "rita", prepare: func(c *apiClub) service.SubmissionView {
			v := c.doubtful()
			return c.call("rita", "POST", at(v, "/reviews"), agrees).is(http.StatusOK).view()
		}},
		"POST /submissions/{id}/settlement": {who: "rita", prepare: func(c *apiClub) service.SubmissionView {
			c.policy(map[string][]string{"Elateridae": {c.people["rita"]}})
			return c.submitted()
		}},
		"POST /submissions/{id}/reopening": {who: "cora", prepare: func(c *apiClub) service.SubmissionView {
			v := c.submitted()
			return c.call("cora", "POST", at(v, "/undetermination"), reason).is(http.StatusOK).view()
		}},
		"POST /submissions/{id}/upholding": {who: "cora", prepare: func(c *apiClub) service.SubmissionView {
			v := c.submitted()
			return c.call("rita", "POST", at(v, "/undetermination"), reason).is(http.StatusOK).view()
		}},
		"POST /submissions/{id}/slip": {who: "rita", prepare: func(c *apiClub) service.SubmissionView {
			return c.call("rita", "POST", at(c.submitted(), "/reviews"), agrees).is(http.StatusOK).view()
		}},
		"DELETE /submissions/{id}/slip": {who: "rita", prepare: func(c *apiClub) service.SubmissionView {
			v := c.call("rita", "POST", at(c.submitted(), "/reviews"), agrees).is(http.StatusOK).view()
			return c.call("rita", "POST", at(v, "/slip"), nil).is(http.StatusOK).view()
		}},
		"POST /series/{series}/giving-back": {who: "rita", prepare: mentored},
		"POST /series/{series}/leaving":     {who: "ada"},
		"POST /series/{series}/end": {who: "rita", prepare: func(c *apiClub) service.SubmissionView {
			mentored(c)
			v := c.submitted()
			return c.call("rita", "POST", at(v, "/reviews"), agrees).is(http.StatusOK).view()
		}},
		"POST /specimens/{specimen}/publication/end": {who: "cora", prepare: func(c *apiClub) service.SubmissionView {
			v := c.submitted()
			c.published(v)
			return v
		}},
		"POST /submissions/{id}/blind":       {who: "rita", prepare: (*apiClub).asked},
		"POST /submissions/{id}/panel":       {who: "rita", prepare: (*apiClub).closed},
		"POST /submissions/{id}/panel/leave": {who: "rita", prepare: (*apiClub).closed},
	}
	var all []changeCase
	for _, r := range routeCases {
		name := r.method + " " + r.path
		if r.method == http.MethodGet || slices.Contains(unkeyed, name) {
			continue
		}
		c := prepared[name]
		c.routeCase = r
		if c.prepare == nil {
			c.prepare = opened
		}
		switch {
		case c.who != "":
		case r.member < 300:
			c.who = "ben"
		case r.reviewer < 300:
			c.who = "rita"
		default:
			c.who = "cora"
		}
		if strings.HasSuffix(r.path, "/replies") {
			c.body = map[string]any{"kind": "excluded", "character": "ventrites", "state": "9", "reason": "a gynandromorph"}
		}
		all = append(all, c)
	}
	require.Greater(t, len(all), 20)
	return all
}

// mentored is a club in which Rita mentors Ada's series, with a submission of before.
func mentored(c *apiClub) service.SubmissionView {
	v := c.submitted()
	c.call("rita", "POST", "/api/v1/series/"+c.waitingSeries()+"/mentor", map[string]any{"mentor": ""}).is(http.StatusOK)
	return v
}

// fixedPath puts what a case is about into its address once, so that it can be asked for twice.
func (c *apiClub) fixedPath(r changeCase, v service.SubmissionView) string {
	if strings.HasPrefix(r.path, "/people/none/account/") {
		if strings.HasSuffix(r.path, "/museum-login-removal") {
			c.linkedInStore("ben")
		}
		return apiPrefix + strings.Replace(r.path, "none", c.people["ben"], 1)
	}
	if strings.HasPrefix(r.path, "/invitations/none/") {
		made := decoded[HandedOver](c.call("cora", "POST", apiPrefix+"/invitations", map[string]any{"role": "member"}).is(http.StatusCreated))
		return apiPrefix + strings.Replace(r.path, "none", made.ID, 1)
	}
	path := strings.NewReplacer("{id}", v.Submission.ID, "{specimen}", v.Submission.Specimen).Replace(r.path)
	if strings.Contains(path, "{change}") {
		path = strings.ReplaceAll(path, "{change}", c.proposed().ID)
	}
	if strings.Contains(path, "{reassessment}") {
		path = strings.ReplaceAll(path, "{reassessment}", c.reassessed())
	}
	if strings.Contains(path, "{intake}") {
		path = strings.ReplaceAll(path, "{intake}", c.intakeFor(path))
	}
	if strings.Contains(path, "{series}") {
		path = strings.ReplaceAll(path, "{series}", c.waitingSeries())
	}
	if r.method == "POST" && strings.HasSuffix(r.path, "/releases") {
		c.approved()
	}
	return apiPrefix + path
}

// Every route that changes something takes a key: the second request is answered as the first one, and changes nothing.
func TestIdempotencyKeyOnEveryChange(t *testing.T) {
	for _, r := range changesOfAll(t) {
		t.Run(r.method+" "+r.path, func(t *testing.T) {
			club := newAPIClub(t)
			v := r.prepare(club)
			path, body, headers := club.fixedPath(r, v), r.body, []string{"Idempotency-Key", "k"}
			switch {
			case r.path == "/photos":
				body, headers = picture(t, 2), append(headers, "Content-Type", "image/jpeg")
			case r.path == "/intakes":
				body, headers = club.archive(), append(headers, "Content-Type", "application/zip")
			case strings.HasSuffix(r.path, "/vouching"):
				body = map[string]any{"determination": v.Submission.ID, "verification": "3", "reason": "revision"}
			case strings.HasSuffix(r.path, "/publication"):
				body = publishBody(v.Submission.Photos[0])
			case strings.HasSuffix(r.path, "/publication/end"):
				body = map[string]any{"photos": v.Submission.Photos, "reason": "asked back"}
			case r.path == "/sheets":
				body = catalogueOrder(v)
			case strings.HasSuffix(r.path, "/account/erasure"):
				body = map[string]any{"login": "ben", "reason": "asked"}
			case strings.HasSuffix(r.path, "/account/holds-passing"):
				held := club.submitted()
				club.call("rita", "POST", at(held, "/hold"), nil).is(http.StatusOK)
				path = apiPrefix + "/people/" + club.people["rita"] + "/account/holds-passing"
				body = map[string]any{"to": club.people["rolf"], "submissions": []string{held.Submission.ID}, "reason": "away"}
			case strings.HasSuffix(r.path, "/imports"):
				body, headers = zipped(t, edited(t, smallTables(), "group.yaml", `release: "1"`, `release: "3"`)), append(headers, "Content-Type", "application/zip")
			}
			first := club.call(r.who, r.method, path, body, headers...)
			require.Less(t, first.status, 300, string(first.body))
			before := club.stands(v)
			again := club.call(r.who, r.method, path, body, headers...)
			require.Equal(t, first.status, again.status, string(again.body))
			require.Equal(t, withoutMoment(first), withoutMoment(again))
			require.Equal(t, first.header.Get("Location"), again.header.Get("Location"))
			require.Equal(t, before, club.stands(v), "nothing was done twice")

			other := club.call(r.who, "POST", "/api/v1/submissions", map[string]any{"draft": true, "remarks": "another"}, "Idempotency-Key", "k").is(http.StatusConflict)
			require.Contains(t, other.problem().Detail, "used for another request")
			for _, bad := range []string{strings.Repeat("k", 121), "\xff"} {
				require.Equal(t, []string{"Idempotency-Key"}, club.call(r.who, r.method, path, body, append(headers, "Idempotency-Key", bad)...).is(http.StatusBadRequest).fields())
			}
		})
	}
}

// withoutMoment is a body without what is counted down, or measured, at the moment of asking.
func withoutMoment(r *reply) string {
	return regexp.MustCompile(`"(took_ms|peak_bytes|made_at)":[^,}]*`).ReplaceAllString(string(r.body), "")
}

// stands is how much there is of everything that a change could add to: events of a submission, submissions, versions of the
// policy, releases and proposed changes.
func (c *apiClub) stands(v service.SubmissionView) (counted []int) {
	c.t.Helper()
	history, err := c.server.Service.HistoryOf(c.t.Context(), c.actor("ada"), v.Submission.ID)
	require.NoError(c.t, err)
	counted = append(counted, len(history.Entries))
	for who := range clubRoles {
		counted = append(counted, len(c.linesOf(who)))
	}
	slices.Sort(counted)
	policy, err := c.server.Service.Policy(c.t.Context())
	require.NoError(c.t, err)
	releases, _, err := c.server.Service.Releases(c.t.Context(), "small-test-group")
	require.NoError(c.t, err)
	changes, _, err := c.server.Service.CellProposals(c.t.Context(), c.actor("cora"), "small-test-group", "")
	require.NoError(c.t, err)
	decided := slices.DeleteFunc(changes, func(p review.CellProposal) bool { return p.Status == review.ProposalOpen })
	return append(counted, policy.Version, len(releases), len(changes), len(decided))
}

func TestTheDocumentListsTheKeyOfEveryChange(t *testing.T) {
	club := newAPIClub(t)
	doc := decoded[struct {
		Paths map[string]map[string]struct {
			Parameters []struct{ Name, In string }
			Responses  map[string]any
		}
	}](club.call("", "GET", "/api/v1/openapi.json", nil).is(http.StatusOK))
	keyed := map[string]bool{}
	for _, r := range changesOfAll(t) {
		keyed[strings.ToLower(r.method)+" "+r.template()] = true
	}
	for path, operations := range doc.Paths {
		for method, o := range operations {
			listed := false
			for _, p := range o.Parameters {
				listed = listed || p.Name == "Idempotency-Key" && p.In == "header"
			}
			require.Equal(t, keyed[method+" "+path], listed, "%s %s", method, path)
			if listed {
				require.Contains(t, o.Responses, "409", "%s %s", method, path)
			}
		}
	}
}

var keyField = regexp.MustCompile(`name="key" value="([^"]+)"`)

// A form that is sent twice, by a double click or after going back, is served once.
func TestFormsSentTwice(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	path := "/submissions/" + v.Submission.ID
	for _, form := range []struct {
		who, page, to, leads string
		fields               url.Values
	}{
		{"rita", path + "/review", path + "/review", "/queue/next?saved=" + v.Submission.ID, reviewFields(v)},
		{"ada", path + "/answer", path + "/answer", path, url.Values{"text": {"here it is"}}},
		{"ada", "/specimens/" + v.Specimen.ID + "/label", "/specimens/" + v.Specimen.ID + "/label", "/specimens/" + v.Specimen.ID,
			url.Values{"label.catalogue_number": {"AB-2"}, "reason": {"misread"}}},
		{"rolf", path, path + "/hold", path, url.Values{}},
		{"rolf", path, path + "/return", path, url.Values{"want": {"specimen"}, "text": {"send it"}}},
	} {
		t.Run(form.to, func(t *testing.T) {
			text := club.page(form.who, form.page, http.StatusOK)
			form.fields.Set("version", regexp.MustCompile(`name="version" value="(\d+)"`).FindStringSubmatch(text)[1])
			form.fields.Set("key", keyField.FindStringSubmatch(text)[1])
			require.Equal(t, form.leads, club.post(form.who, form.to, form.fields).goesTo())
			before := club.stands(v)
			require.Equal(t, form.leads, club.post(form.who, form.to, form.fields).goesTo(), "the same form again")
			require.Equal(t, before, club.stands(v))
		})
	}
}

// Every form of a page that changes something bears a key.
func TestEveryFormBearsAKey(t *testing.T) {
	club := newAPIClub(t)
	v, draft := club.submitted(), club.draft()
	club.approved()
	change := club.proposed()
	for who, paths := range map[string][]string{
		"rita": {"/submissions/" + v.Submission.ID, "/submissions/" + v.Submission.ID + "/review"},
		"ada": {"/submissions/new", "/submissions/" + v.Submission.ID + "/answer", "/submissions/" + draft.Submission.ID + "/edit",
			"/specimens/" + v.Specimen.ID + "/label"},
		"cora": {"/policy", "/tables/small-test-group/changes/" + change.ID, "/tables/small-test-group/releases/new", "/figures/reliability",
			"/tables/small-test-group/changes/new?family=Elateridae&character=ventrites"},
	} {
		for _, path := range paths {
			text := club.page(who, path, http.StatusOK)
			forms := regexp.MustCompile(`(?s)<form method="post".*?</form>`).FindAllString(text, -1)
			require.NotEmpty(t, forms)
			for _, form := range forms {
				if !strings.Contains(form, `action="/logout"`) && !strings.Contains(form, `action="/language"`) { // done twice, they have done the same
					require.Len(t, keyField.FindAllString(form, -1), 1, "%s: %.200s", path, form)
				}
			}
		}
	}
}

// Who saves a draft, goes back in the browser and saves again has one draft.
func TestDraftSavedAgainAfterGoingBack(t *testing.T) {
	club := newAPIClub(t)
	fields := club.submissionFields("ada")
	fields.Set("do", "draft")
	id := idIn(t, club.postFiles("ada", "/submissions", fields).goesTo())
	fields.Set("remarks", "thought of later")
	require.Equal(t, "/submissions/"+id, club.postFiles("ada", "/submissions", fields).goesTo(), "it goes on with the same draft")
	require.Equal(t, "thought of later", club.viewOf("ada", id).Submission.Remarks)
	require.Len(t, club.linesOf("ada"), 1)

	// Meanwhile it was changed on its own page: what was typed comes back, as the form of that draft.
	fields.Set("remarks", "from the old form")
	text := club.shown(club.postFiles("ada", "/submissions", fields), http.StatusConflict)
	require.Contains(t, text, "from the old form")
	require.Contains(t, text, `action="/submissions/`+id+`/edit"`)
	version := regexp.MustCompile(`name="version" value="(\d+)"`).FindStringSubmatch(text)[1]
	require.Equal(t, strconv.Itoa(club.viewOf("ada", id).Version), version)
	fields.Set("version", version)
	require.Equal(t, "/submissions/"+id, club.postFiles("ada", "/submissions/"+id+"/edit", fields).goesTo())
	require.Equal(t, "from the old form", club.viewOf("ada", id).Submission.Remarks)

	// It is submitted: the old form makes nothing by itself.
	fields.Set("do", "submit")
	fields.Set("version", strconv.Itoa(club.viewOf("ada", id).Version))
	club.postFiles("ada", "/submissions/"+id+"/edit", fields).goesTo()
	fields.Set("remarks", "too late")
	text = club.shown(club.postFiles("ada", "/submissions", fields), http.StatusConflict)
	require.Contains(t, text, "too late")
	require.Contains(t, text, "What you sent with this form before is open")
	require.Len(t, club.linesOf("ada"), 1)
	require.Equal(t, review.StatusOpen, club.viewOf("ada", id).Submission.Status)
}

// A form that brings its files along is the same form when it is sent again, though its photos are stored anew.
func TestFormWithFilesSentTwice(t *testing.T) {
	club := newAPIClub(t)
	fields := url.Values{"label.catalogue_number": {"AB-8"}, "family": {"Elateridae"}, "obs[ventrites].state": {"5"}, "do": {"submit"}, "key": {"k"}}
	text := club.shown(club.postFiles("ada", "/submissions", fields, file{"below.jpg", picture(t, 1)}), http.StatusBadRequest)
	require.Contains(t, text, "choose what the photo shows")
	fields.Set("do", "draft")
	send := func() string {
		sent := url.Values{}
		for name, values := range fields {
			sent[name] = values
		}
		sent.Set("photos[0].photo", club.upload("ada"))
		sent.Set("photos[0].view", "below")
		return club.postFiles("ada", "/submissions", sent).goesTo()
	}
	require.Equal(t, send(), send())
	require.Len(t, club.linesOf("ada"), 1)
}

package web

import (
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
	"revidit/review/service"
)

// walk goes over routes as everybody there is. Ada is a member, Kim a keeper, Rita a reviewer, Cora a curator, Mac a machine with all
// scopes; Ben owns what is somebody else's, Rolf holds what is held and does what brings a submission to its status.
type walk struct {
	*apiClub
	made   map[string]service.SubmissionView // by owner, status and whether it is held, as long as nobody has changed it
	passed map[review.Action]bool            // acts that somebody could do
}

var walkers = map[string]review.Role{"ada": review.RoleMember, "kim": review.RoleKeeper, "rita": review.RoleReviewer, "cora": review.RoleCurator, "mac": review.RoleMachine}

func newWalk(t testing.TB) *walk {
	t.Helper()
	c := newAPIClub(t)
	w := &walk{apiClub: c, made: map[string]service.SubmissionView{}, passed: map[review.Action]bool{}}
	kim, err := c.server.Accounts.Create(t.Context(), "kim", "Kim", review.RoleKeeper, clubPassword)
	require.NoError(t, err)
	c.people["kim"] = kim.Person
	secret, token, err := c.server.Accounts.GiveMachineToken(t.Context(), c.actor("cora"), auth.MachineForm{Name: "Mac", Purpose: "a walk", Scopes: review.AllScopes, Days: 1})
	require.NoError(t, err)
	c.people["mac"], c.tokens["mac"] = token.Person, secret
	named := []string{c.people["rita"], c.people["rolf"], c.people["cora"]}
	c.call("cora", http.MethodPut, "/api/v1/policy", policyBody("reviewers", 1, "confidence", 0.5, "experts", map[string]any{"Elateridae": named}, "holds_at_once", 50,
		"blind_rate", 0, "recheck_rate", 0)).is(http.StatusOK)
	return w
}

func (w *walk) as(who string) review.Actor {
	actor := review.Actor{Person: w.people[who], Role: walkers[who]}
	if actor.Role == review.RoleMachine {
		actor.Scopes = review.ScopesOf(review.AllScopes)
	}
	return actor
}

// submission is one of an owner in a status, held by Rolf or by nobody.
func (w *walk) submission(owner string, status review.Status, held bool) service.SubmissionView {
	w.t.Helper()
	key := fmt.Sprint(owner, status, held)
	if v, known := w.made[key]; known {
		return v
	}
	form := w.form(owner)
	if status == review.StatusDraft {
		form["draft"] = true
	}
	v := w.call(owner, http.MethodPost, "/api/v1/submissions", form).is(http.StatusCreated).view()
	act := func(who, path string, body any) { w.call(who, http.MethodPost, at(v, path), body) }
	switch {
	case held:
		act("rolf", "/hold", nil)
	case status == review.StatusReturned:
		act("rolf", "/returns", map[string]any{"want": "specimen", "text": "send it"})
	case status == review.StatusConfirmed:
		act("rolf", "/reviews", agrees)
	case status == review.StatusUndetermined:
		act("rolf", "/undetermination", reason)
	case status == review.StatusRedetermined:
		act("rolf", "/redeterminations", map[string]any{"family": "Buprestidae", "reason": "plates"})
	case status == review.StatusWithdrawn:
		act(owner, "/withdrawal", reason)
	}
	v, err := w.server.Service.View(w.t.Context(), review.Actor{Person: w.people[owner], Role: review.RoleMember}, v.Submission.ID)
	require.NoError(w.t, err)
	require.Equal(w.t, status, v.Submission.Status)
	require.Equal(w.t, held, v.Submission.Hold != nil)
	w.made[key] = v
	return v
}

// outcomeSaid is what the table says of a cell.
type outcomeSaid string

const (
	hidden  outcomeSaid = "hidden"  // as if it were not there
	refused outcomeSaid = "refused" // not this person
	notNow  outcomeSaid = "not now" // not in this status, or not while somebody else holds it
	passes  outcomeSaid = "passes"
)

// saysOf is what the rows of an act say, read as whoever reads the page of them would.
func saysOf(rows []review.Permission, actor review.Actor, s *review.Submission) (says outcomeSaid, narrowed bool) {
	says = refused
	for _, r := range rows {
		own := actor.Person == s.Owner
		if !slices.Contains(r.Roles, actor.Role) || r.Whose == review.OfOwn && !own || r.Whose == review.OfOthers && own {
			continue
		}
		narrowed = narrowed || r.Besides != ""
		switch {
		case !slices.Contains(r.From, s.Status), r.Unheld && s.Hold != nil && s.Hold.By != actor.Person:
			if says == refused {
				says = notNow
			}
		default:
			says = passes
		}
	}
	return says, narrowed
}

// answered is what an answer comes to.
func answered(status int) outcomeSaid {
	switch status {
	case http.StatusNotFound:
		return hidden
	case http.StatusForbidden:
		return refused
	case http.StatusConflict:
		return notNow
	}
	return passes // or what was sent is wrong, which is nobody's place to be told who may not send it
}

// TestEveryRouteAsTheTableSays: every route about a submission, as every role, of one's own, somebody else's, and what somebody else
// holds, in every status, answers as the permission table says. What a row asks besides only narrows.
func TestEveryRouteAsTheTableSays(t *testing.T) {
	w := newWalk(t)
	cases := map[string]routeCase{}
	for _, r := range routeCases {
		cases[r.method+" "+apiPrefix+r.template()] = r
	}
	cells := 0
	for _, route := range slices.Sorted(maps.Keys(actOfRoute)) {
		act := actOfRoute[route]
		method, path, _ := strings.Cut(route, " ")
		if !strings.Contains(path, "/submissions/:id") || review.PermissionsOf(act)[0].From == nil {
			continue
		}
		for who := range walkers {
			for _, owner := range []string{who, "ben"} {
				for _, status := range review.Statuses {
					for _, held := range []bool{false, true} {
						if held && status != review.StatusOpen {
							continue
						}
						cells++
						w.cell(cell{route, method, path, act, who, owner, status, held}, cases)
					}
				}
			}
		}
	}
	require.Greater(t, cells, 2000)
	for act := range routesOf {
		if rows := review.PermissionsOf(act); rows[0].From != nil && rows[0].Besides == "" {
			require.True(t, w.passed[act], "%s: nobody could do it, so that the walk shows nothing", act)
		}
	}
}

type cell struct {
	route, method, path string
	act                 review.Action
	who, owner          string
	status              review.Status
	held                bool
}

func (w *walk) cell(c cell, cases map[string]routeCase) {
	w.t.Helper()
	v := w.submission(c.owner, c.status, c.held)
	actor := w.as(c.who)
	says, narrowed := saysOf(review.PermissionsOf(c.act), actor, &v.Submission)
	if v.Submission.OpenedAt == nil && actor.Person != v.Submission.Owner {
		says = hidden
	}
	if w.machineOnPage(actor, c.path) || actor.Role == review.RoleMachine && !review.Ever(actor, c.act) {
		says, narrowed = refused, false // before anything is read
	}
	answer := w.send1(c, v, cases)
	got := answered(answer.status)
	back := answer.status == http.StatusSeeOther && answer.header.Get("Location") == submissionPath(v.Submission.ID)
	if back && slices.Contains([]review.Action{review.ActBlind, review.ActPanel}, c.act) {
		got = notNow // nothing to look at: the page of the submission is shown in its place
	}
	name := fmt.Sprintf("%s as %s (%s) of %s's, %s, held %v: %d", c.route, c.who, actor.Role, c.owner, c.status, c.held, answer.status)
	require.Less(w.t, answer.status, 500, name)
	require.NotEqual(w.t, http.StatusUnauthorized, answer.status, name)
	switch {
	case got == says:
	case says == refused && got == notNow && review.PermissionsOf(c.act)[0].Besides != "": // it is said first that there is nothing to do
	case says == passes && narrowed && got != hidden:
	case says == notNow && narrowed && got == refused:
	case says == notNow && got == passes && c.method == http.MethodGet && c.held: // the form can be read meanwhile, and not sent
	case says == notNow && got == passes && back && c.route == "POST /submissions/:id/check": // sent twice
	case says == passes && got == hidden && c.route == "POST /submissions/:id/ask": // an answer about no character
	case c.act == review.ActReadPast && answer.status == http.StatusBadRequest: // no moment was named, which is said before anything is read
	case c.act == review.ActReadPast && got == hidden && says != refused: // it had not begun at that moment
	default:
		assert.Fail(w.t, name, "the table says %s: %s", says, answer.body[:min(300, len(answer.body))])
	}
	if got == passes {
		w.passed[c.act] = true
		if c.method != http.MethodGet && answer.status < 400 {
			delete(w.made, fmt.Sprint(c.owner, c.status, c.held))
		}
	}
}

// send1 sends the request of a cell: by the API with a good body, by the pages with a form that says on which version it was decided.
func (w *walk) send1(c cell, v service.SubmissionView, cases map[string]routeCase) *reply {
	w.t.Helper()
	if api, ours := strings.CutPrefix(c.path, apiPrefix); ours {
		r, known := cases[c.method+" "+apiPrefix+strings.ReplaceAll(api, ":id", "{id}")]
		require.True(w.t, known, c.route)
		return w.try(r, c.who, v)
	}
	path := strings.ReplaceAll(c.path, ":id", v.Submission.ID)
	if c.method == http.MethodGet {
		return w.call(c.who, c.method, path+map[bool]string{true: "?from=1"}[strings.HasSuffix(path, "/difference")], nil)
	}
	return w.post(c.who, path, url.Values{"version": {strconv.Itoa(v.Version)}, "key": {"k"}, "reason": {"for the walk"}, "want": {"specimen"}, "text": {"send it"}})
}

// TestEveryOtherRouteAsTheTableSays: the same of what is about no submission, of one's own and of somebody else's.
func TestEveryOtherRouteAsTheTableSays(t *testing.T) {
	w := newWalk(t)
	cases := map[string]routeCase{}
	for _, r := range routeCases {
		cases[r.method+" "+apiPrefix+r.template()] = r
	}
	for _, owner := range append(slices.Collect(maps.Keys(walkers)), "ben") {
		w.submission(owner, review.StatusOpen, false)
	}
	for _, route := range slices.Sorted(maps.Keys(actOfRoute)) {
		act := actOfRoute[route]
		rows := review.PermissionsOf(act)
		require.NotEmpty(t, rows, "%s is %s, which the table lacks", route, act)
		if rows[0].From != nil {
			continue
		}
		for who := range walkers {
			for _, owner := range []string{who, "ben"} {
				w.other(route, act, who, owner, cases)
			}
		}
	}
}

func (w *walk) other(route string, act review.Action, who, owner string, cases map[string]routeCase) {
	w.t.Helper()
	method, path, _ := strings.Cut(route, " ")
	if _, err := w.server.Accounts.Program(w.t.Context(), w.tokens[who]); err != nil { // a route before has ended it
		delete(w.tokens, who)
	}
	actor, v := w.as(who), w.submission(owner, review.StatusOpen, false)
	var answer *reply
	if r, known := cases[method+" "+strings.NewReplacer(":id", "{id}", ":group", "{group}", ":size", "{size}", ":name", "{name}", ":hash", "{hash}", ":key", "{key}", ":file", "{file}",
		":character", "{character}", ":intake", "{intake}").Replace(path)]; known && strings.HasPrefix(path, apiPrefix) {
		answer = w.try(w.about(r, owner), who, v)
		if strings.Contains(path, "/series/:id") {
			owner = "ada" // whose series it is
		}
	} else {
		address := strings.NewReplacer("/specimens/:id", "/specimens/"+v.Submission.Specimen, "/photos/:id", "/photos/"+v.Submission.Photos[0], "/people/:id", "/people/"+w.people[owner],
			":group", "small-test-group", ":size", "display", ":id", "none").Replace(path)
		answer = w.call(who, method, address, nil)
		if method == http.MethodPost {
			answer = w.post(who, address, url.Values{"version": {"1"}, "key": {"k"}, "reason": {"for the walk"}})
		}
	}
	if route == "DELETE /api/v1/sessions" && answer.status < 400 {
		delete(w.tokens, who)
	}
	name := fmt.Sprintf("%s as %s (%s) of %s's: %d %s", route, who, actor.Role, owner, answer.status, answer.body[:min(200, len(answer.body))])
	require.Less(w.t, answer.status, 500, name)
	require.NotEqual(w.t, http.StatusUnauthorized, answer.status, name)
	unknown := answer.status == http.StatusNotFound // nothing there that it could be about: said to those who may ask
	switch {
	case w.machineOnPage(actor, path), !review.Ever(actor, act):
		assert.Equal(w.t, http.StatusForbidden, answer.status, name)
	case w.aboutOwner(path) && !review.May(actor, act, w.people[owner]):
		assert.Contains(w.t, []int{http.StatusForbidden, http.StatusNotFound}, answer.status, name)
	case !unknown && review.May(actor, act, w.people[owner]) && !slices.ContainsFunc(review.PermissionsOf(act), func(p review.Permission) bool { return p.Besides != "" }):
		assert.NotEqual(w.t, http.StatusForbidden, answer.status, name)
	}
}

// machineOnPage: pages are for people.
func (w *walk) machineOnPage(actor review.Actor, path string) bool {
	return actor.Role == review.RoleMachine && !strings.HasPrefix(path, apiPrefix)
}

// about is a case about what an owner has.
func (w *walk) about(r routeCase, owner string) routeCase {
	r.path = strings.ReplaceAll(r.path, "/people/none", "/people/"+w.people[owner])
	return r
}

// aboutOwner says whether a path of other leads to something of the owner.
func (w *walk) aboutOwner(path string) bool {
	return strings.Contains(path, "/specimens/:id") || strings.Contains(path, "/people/:id")
}

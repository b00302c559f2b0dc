package web

import (
	"net/http"
	"net/url"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/audit"
	"revidit/review/jobs"
	"revidit/review/service"
)

// TestLedgerOnHome: what waits for a curator is one click from home, and only for curators.
func TestLedgerOnHome(t *testing.T) {
	club := newAPIClub(t)
	club.submitted()
	require.Contains(t, club.page("cora", "/", 200), "Nothing waits for you")
	require.NotContains(t, club.page("rita", "/", 200), "Waits for your decision")
	change := club.proposed() // by Carl
	text := club.page("cora", "/", 200)
	require.Contains(t, text, "wait for a second curator")
	require.Contains(t, text, `href="/tables/small-test-group/changes/`+change.ID+`"`)
	require.NotContains(t, club.page("carl", "/", 200), "wait for a second curator", "nobody decides on their own")
	ledger := decoded[struct{ Proposals []ChangeView }](club.call("cora", http.MethodGet, "/api/v1/ledger", nil).is(http.StatusOK))
	require.Len(t, ledger.Proposals, 1)
	require.Equal(t, "Name of carl", ledger.Proposals[0].ByName)

	slip := club.submissionFields("cora")
	slip.Set("wording", "Elater sp., det. Hand 1926")
	slip.Set("do", "draft")
	club.post("cora", "/submissions", slip)
	text = club.page("cora", "/", 200)
	require.Contains(t, text, "Drafts of old slips")
	require.NotContains(t, club.page("carl", "/", 200), "Drafts of old slips")
}

// TestDoubtsAndPanelsOnHome: what a release puts in doubt and what a panel does not bear out stands on home until somebody
// decides, and a curator may let it stand.
func TestDoubtsAndPanelsOnHome(t *testing.T) {
	club := figuresClub(t)
	id := club.wholeWay("5", "5")
	club.panel(id, "Buprestidae", "Buprestidae", "Elateridae")
	text := club.page("cora", "/", 200)
	require.Contains(t, text, "Panels that disagree")
	require.Contains(t, text, `href="/submissions/`+id+`"`)
	require.Contains(t, club.page("cora", "/submissions?parted=yes", 200), `href="/submissions/`+id+`"`)
	require.NotContains(t, club.page("rita", "/", 200), "Panels that disagree")

	require.Contains(t, club.page("cora", "/submissions/"+id, 200), "Let it stand")
	require.NotContains(t, club.page("rita", "/submissions/"+id, 200), "Let it stand")
	version := club.viewWithVersion("cora", id)
	require.Contains(t, club.shown(club.post("cora", "/submissions/"+id+"/uphold", url.Values{"version": {version}, "reason": {""}}), 400), "Must be filled in")
	require.Equal(t, "/submissions/"+id, club.post("cora", "/submissions/"+id+"/uphold",
		url.Values{"version": {version}, "reason": {"I have dissected it"}}).goesTo())
	require.NotContains(t, club.page("cora", "/", 200), "Panels that disagree")
	text = club.page("rita", "/submissions/"+id, 200)
	require.Contains(t, text, "let it stand: “I have dissected it”")
	require.Contains(t, club.page("rita", "/submissions/"+id+"/history", 200), "looked into it again and let it stand")
}

// viewWithVersion is the version of a submission as forms have it.
func (c *apiClub) viewWithVersion(who, id string) string {
	c.t.Helper()
	v, err := c.server.Service.View(c.t.Context(), c.as(who), id)
	require.NoError(c.t, err)
	return strconv.Itoa(v.Version)
}

// TestAuditOnThePage: a curator opens what is sealed with one written reason; who has opened it stands on the page for everybody, and
// why for those who may see what was said.
func TestAuditOnThePage(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	club.call("rita", http.MethodPost, at(v, "/reviews"), agrees).is(http.StatusOK)
	page := "/submissions/" + v.Submission.ID
	text := club.page("cora", page, 200)
	require.Contains(t, text, "Open it in an audit")
	require.Contains(t, text, "You can look blind at this specimen no more", "what it means is said before")
	for _, who := range []string{"rolf", "ben", "ada"} {
		require.NotContains(t, club.page(who, page, 200), "Open it in an audit")
	}
	form := url.Values{"version": {strconv.Itoa(club.viewOf("cora", v.Submission.ID).Version)}, "reason": {""}}
	require.Contains(t, club.shown(club.post("cora", page+"/audit", form), 400), "What others have said is closed to you")
	form.Set("reason", "a complaint about <Rita>")
	require.Equal(t, page, club.post("cora", page+"/audit", form).goesTo())
	text = club.page("cora", page, 200)
	require.NotContains(t, text, "What others have said is closed to you")
	require.NotContains(t, text, "Open it in an audit")
	require.Contains(t, text, "a complaint about &lt;Rita&gt;")
	text = club.page("rolf", page, 200)
	require.Contains(t, text, "Name of cora opened it in an audit on")
	require.NotContains(t, text, "a complaint")
	text = club.page("rolf", page+"/history", 200)
	require.Contains(t, text, "opened in an audit what others had said")
	require.NotContains(t, text, "a complaint")
	require.Contains(t, club.page("ada", page+"/history", 200), "a complaint about &lt;Rita&gt;")
	club.call("cora", http.MethodPost, at(v, "/audit"), reason).is(http.StatusConflict)
}

// TestReliabilityInTotals: where the policy shows totals no page and no route tells a curator how a person reads.
func TestReliabilityInTotals(t *testing.T) {
	club := audited(t)
	require.NoError(t, club.server.Service.CatchUp(t.Context()))
	names := func(who string) bool {
		figures := decoded[audit.ReliabilityFigures](club.call(who, http.MethodGet, "/api/v1/figures/reliability", nil).is(http.StatusOK))
		for _, p := range figures.People {
			require.Contains(t, []string{club.people[who], club.people["rita"], club.people["rolf"], club.people["ada"]}, p.Person)
		}
		return len(figures.People) > 1
	}
	require.True(t, names("cora"))
	require.False(t, names("rita"))
	policy, err := club.server.Service.Policy(t.Context())
	require.NoError(t, err)
	policy.ReliabilityShown, policy.Reason = "", "totals are enough" // as a policy of a time when that could not be said
	_, err = club.server.Service.SetPolicy(t.Context(), club.as("cora"), service.AnyVersion, policy)
	require.NoError(t, err)

	require.False(t, names("cora"))
	for _, path := range []string{"/figures/reliability", "/figures/reliability?version=1", "/figures/agreement"} {
		text := club.page("cora", path, 200)
		for _, who := range []string{"rita", "rolf", "ada"} {
			require.NotContains(t, text, "Name of "+who, path)
		}
		api := string(club.call("cora", http.MethodGet, "/api/v1"+path, nil).is(http.StatusOK).body)
		for _, who := range []string{"rita", "rolf", "ada"} {
			require.NotContains(t, api, club.people[who], path)
		}
	}
	answer := string(club.call("cora", http.MethodPost, "/api/v1/figures/reliability/refit", nil).is(http.StatusOK).body)
	require.NotContains(t, answer, club.people["rita"], "nor the answer of a refit")
	require.Contains(t, club.page("cora", "/figures/reliability", 200), "shows curators totals and no names")
	require.Contains(t, club.page("cora", "/figures/agreement", 200), "Pairs of people are left out")
	require.Contains(t, club.page("rita", "/figures/reliability", 200), "Name of rita", "everybody sees their own")
	require.Contains(t, club.page("cora", "/policy", 200), "in totals, without names")
}

// TestDoubtOnHome: what the release in force puts in doubt stands on home when a job has found it, and goes when a curator decides.
func TestDoubtOnHome(t *testing.T) {
	club := newAPIClub(t)
	club.chance("reviewers", 1, "blind_rate", 0, "recheck_rate", 0)
	v := club.submitted()
	club.call("rita", http.MethodPost, at(v, "/reviews"), agrees).is(http.StatusOK)
	require.Equal(t, review.StatusConfirmed, club.viewOf("ada", v.Submission.ID).Submission.Status)
	never5 := map[string]any{"family": "Elateridae", "character": "ventrites", "states": []any{
		map[string]any{"state": "6-7", "word": "always"}, map[string]any{"state": "rest", "word": "never"}}}
	change := decoded[ChangeView](club.call("carl", http.MethodPost, smallGroup+"/changes", map[string]any{"edit": never5, "reason": "counted again"}).is(http.StatusCreated))
	club.decided(change, "cora", "approved")
	club.call("cora", http.MethodPost, "/api/v1/groups/small-test-group/releases", map[string]any{"version": "2"}).is(http.StatusCreated)
	require.NotContains(t, club.page("cora", "/", 200), "Put in doubt by a release")
	hash := club.tablesInForce().Hash
	require.NoError(t, club.server.Service.Do(t.Context(), jobs.Doubts(jobs.Pair{Group: "small-test-group", To: hash}), nil))
	doubted, err := club.server.Service.Doubted(t.Context(), club.actor("cora"), "small-test-group")
	require.NoError(t, err)
	require.Equal(t, 1, doubted.InDoubt, "five plates would be excluded")
	text := club.page("cora", "/", 200)
	require.Contains(t, text, "Put in doubt by a release")
	require.Contains(t, text, `href="/submissions/`+v.Submission.ID+`"`)
	club.call("cora", http.MethodPost, at(v, "/upholding"), reason).is(http.StatusOK)
	require.NotContains(t, club.page("cora", "/", 200), "Put in doubt by a release")
}

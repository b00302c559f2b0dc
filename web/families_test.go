package web

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
	"revidit/review/service"
)

// TestReviewersOfFamilies: who is named for families has a queue of these alone and reviews nothing else, from the next request on,
// and is never drawn to look blind.
func TestReviewersOfFamilies(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted() // of the Elateridae
	queue := func() int {
		return len(decoded[struct{ Items []service.QueueLine }](club.call("rita", "GET", "/api/v1/queue", nil).is(http.StatusOK)).Items)
	}
	name := func(families ...string) {
		form := map[string]any{"families": append([]string{}, families...), "reason": "what she knows"}
		club.call("cora", "PUT", "/api/v1/people/"+club.people["rita"]+"/families", form).is(http.StatusNoContent)
	}
	require.Equal(t, 1, queue())
	name("Buprestidae")
	require.Equal(t, 0, queue())
	require.Equal(t, []string{"Buprestidae"}, decoded[review.Person](club.call("rita", "GET", "/api/v1/me", nil)).Families)
	refused := club.call("rita", "POST", at(v, "/reviews"), agrees).is(http.StatusForbidden)
	require.Contains(t, refused.problem().Detail, "Buprestidae")
	require.NotContains(t, club.call("rita", "GET", at(v, ""), nil).view().Allowed, review.ActReview)
	club.shown(club.post("rita", "/submissions/"+v.Submission.ID+"/hold", url.Values{"version": {strconv.Itoa(v.Version)}}), http.StatusForbidden)

	path := "/people/" + club.people["rita"]
	require.Contains(t, club.page("cora", path, 200), "Named for Buprestidae.")
	require.NotContains(t, club.page("rita", path, 200), `name="families"`, "nobody names themselves")
	wrong := club.shown(club.post("cora", path+"/families", url.Values{"families": {"Elateridae, Nonidae"}, "reason": {"more"}}), http.StatusBadRequest)
	require.Contains(t, wrong, "is not a family of these tables")
	require.Equal(t, path, club.post("cora", path+"/families", url.Values{"families": {"Elateridae"}, "reason": {"more"}}).goesTo())
	require.Equal(t, 1, queue())
	club.call("rita", "POST", at(v, "/reviews"), agrees).is(http.StatusOK)

	club.call("cora", "PUT", "/api/v1/people/"+club.people["ada"]+"/families", map[string]any{"families": []string{"Elateridae"}, "reason": "no reviewer"}).is(http.StatusConflict)
	name()
	club.draws("rita")
	drawn := club.submitted()
	club.call("rita", "GET", at(drawn, ""), nil).is(http.StatusConflict)
	name("Elateridae")
	club.call("rita", "GET", at(drawn, ""), nil).is(http.StatusOK)
}

// TestMachinesPage: a token is shown once, and to curators alone.
func TestMachinesPage(t *testing.T) {
	club := newAPIClub(t)
	club.page("rita", "/machines", http.StatusForbidden)
	wrong := club.shown(club.post("cora", "/machines", url.Values{"name": {"Scanner"}, "days": {"999"}, "purpose": {"photos"}, "scopes": {"read"}}), http.StatusBadRequest)
	require.Contains(t, wrong, `value="999"`)
	made := club.shown(club.post("cora", "/machines", url.Values{"name": {"Scanner"}, "days": {"9"}, "purpose": {"photos"}, "scopes": {"read", "print"}}), http.StatusOK)
	require.Regexp(t, `rm_[A-Z2-7]{26}_[A-Z2-7]{26}`, made)
	again := club.page("cora", "/machines", http.StatusOK)
	require.Contains(t, again, "Scanner")
	require.NotContains(t, again, "rm_")
	require.Contains(t, club.page("ada", "/permissions", http.StatusOK), "Who may do what")
}

// Nobody reviews their own, nor what a machine submitted that they have given a token (conflict of interest; common practice, no source).
func TestNobodyReviewsTheirOwnMachine(t *testing.T) {
	club := newAPIClub(t)
	secret, token, err := club.server.Accounts.GiveMachineToken(t.Context(), club.actor("cora"), auth.MachineForm{Name: "Mac", Purpose: "a scanner", Scopes: review.AllScopes, Days: 1})
	require.NoError(t, err)
	club.people["mac"], club.tokens["mac"] = token.Person, secret
	v := club.call("mac", http.MethodPost, "/api/v1/submissions", club.form("mac")).is(http.StatusCreated).view()
	for path, body := range map[string]any{"/hold": nil, "/reviews": agrees, "/returns": map[string]any{"want": "specimen", "text": "send it"}, "/settlement": map[string]any{"reason": "known at sight"},
		"/undetermination": map[string]any{"reason": "worn"}} {
		refused := club.call("cora", http.MethodPost, at(v, path), body).is(http.StatusForbidden).problem()
		require.Contains(t, refused.Detail, "of a machine that you have given a token", path)
	}
	waits := func(who string) bool {
		return strings.Contains(string(club.call(who, http.MethodGet, "/api/v1/queue", nil).is(http.StatusOK).body), v.Submission.ID)
	}
	require.False(t, waits("cora"))
	require.True(t, waits("carl"))
	page := "/submissions/" + v.Submission.ID
	require.NotContains(t, club.page("cora", page, 200), page+"/review")
	require.Contains(t, club.page("carl", page, 200), page+"/review")
	club.call("carl", http.MethodPost, at(v, "/reviews"), agrees).is(http.StatusOK)
}

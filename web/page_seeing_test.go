package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

// TestWhatTheReviewersSawDifferently: the owner sees both states beside each other, and, when it is closed, the pair on a page that
// nobody else has; others see neither.
func TestWhatTheReviewersSawDifferently(t *testing.T) {
	club := newAPIClub(t)
	club.policy(map[string][]string{"Elateridae": {club.people["rita"]}})
	v := club.submitted()
	tag := func(who string) string { return club.call(who, "GET", at(v, ""), nil).header.Get("ETag") }
	verdict := map[string]any{"verdicts": []any{map[string]any{"observation": v.Submission.Cites[0], "kind": "dispute", "better": "6", "note": "count <again>"}}}
	club.call("rita", "POST", at(v, "/reviews"), verdict, "If-Match", tag("rita")).is(http.StatusOK)
	path := "/submissions/" + v.Submission.ID
	text := club.page("ada", path, http.StatusOK)
	require.Contains(t, text, "What the reviewers saw differently")
	require.Contains(t, text, "You: 5")
	require.Contains(t, text, "Others: 6")
	require.Contains(t, text, "count &lt;again&gt;")
	require.NotContains(t, club.page("ben", path, http.StatusOK), "saw differently")
	require.NotContains(t, club.page("rolf", path, http.StatusOK), "Others: 6", "sealed")
	require.NotContains(t, club.page("ada", "/seeing", http.StatusOK), "Others: 6", "what is open is no part of it")

	_, err := club.server.Service.Withdraw(t.Context(), club.actor("ada"), v.Submission.ID, service.AnyVersion, "sold")
	require.NoError(t, err)
	require.Equal(t, review.StatusWithdrawn, club.viewOf("ada", v.Submission.ID).Submission.Status)
	seeing := club.page("ada", "/seeing", http.StatusOK)
	require.Contains(t, seeing, "Others: 6")
	require.NotContains(t, club.page("ben", "/seeing", http.StatusOK), "Others: 6")
}

package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

// TestSeriesOnPages: a beginner asks for a mentor on the first page, a reviewer takes it up there, answers without scores, and ends it in
// one message.
func TestSeriesOnPages(t *testing.T) {
	club := newAPIClub(t)
	club.chance("confidence", 0.999, "blind_rate", 0.5, "recheck_rate", 0)
	require.Contains(t, club.page("ada", "/", 200), "Ask for a mentor")
	require.NotContains(t, club.page("rita", "/", 200), "Ask for a mentor")
	path := club.post("ada", "/series", url.Values{"key": {"k"}}).goesTo()
	require.Equal(t, path, club.post("ada", "/series", url.Values{"key": {"k"}}).goesTo(), "a double click begins one")
	require.NotContains(t, club.page("ada", "/", 200), "Ask for a mentor")
	require.Contains(t, club.page("rita", "/", 200), `href="`+path+`"`)
	club.page("ben", path, 404)
	require.Contains(t, club.page("rita", path, 200), "Take it up")
	require.Equal(t, path, club.post("rita", path+"/mentor", url.Values{}).goesTo())

	v := club.submitted()
	require.NotEmpty(t, v.Submission.Series)
	own := "/submissions/" + v.Submission.ID
	text := club.page("ada", own, 200)
	require.Contains(t, text, "without scores")
	for _, score := range []string{"0.9", "very likely", "to 1 for it", "bits", "decibans"} {
		require.NotContains(t, text, score)
	}
	require.NotContains(t, club.page("rolf", own, 200), "Review it")
	require.Contains(t, club.page("rita", own, 200), "Review it")
	club.call("rolf", http.MethodPost, at(v, "/reviews"), agrees).is(http.StatusForbidden)
	require.Contains(t, club.page("rita", path, 200), "when none waits for you any more")
	club.call("rita", http.MethodPost, at(v, "/reviews"), agrees).is(http.StatusOK)
	text = club.page("ada", own, 200)
	require.Contains(t, text, "by the answer of the mentor, Name of rita")
	require.NotContains(t, text, "confidence of")
	require.NotContains(t, club.page("ada", own+"/history", 200), "Confidence")
	require.Contains(t, club.page("rita", own+"/history", 200), "Confidence")
	seen := club.call("ada", http.MethodGet, at(v, ""), nil).is(http.StatusOK).view()
	require.True(t, seen.Unscored)
	require.Zero(t, seen.Assessment.Confidence)
	list := string(club.call("ada", http.MethodGet, "/api/v1/submissions?owner=me", nil).is(http.StatusOK).body)
	require.Contains(t, list, `"confidence":0,`)

	form := url.Values{"group": {"small-test-group"}, "mixed": {"ventrites|5|6"}, "practise": {"ventrites"}, "text": {""}}
	text = club.shown(club.post("rita", path+"/end", form), 400)
	require.Contains(t, text, "Must be filled in")
	form.Set("text", "You look closely; <em>turn</em> the beetle.")
	require.Equal(t, path, club.post("rita", path+"/end", form).goesTo())
	text = club.page("ada", path, 200)
	require.Contains(t, text, "&lt;em&gt;turn&lt;/em&gt;")
	require.Contains(t, text, "To practise")
	require.Contains(t, club.page("ada", "/", 200), "What your mentor tells you")
	club.page("ben", path, 404)
}

// TestSeriesIsHandedOver: a curator gives a series to somebody else, and hears of a name that cannot mentor.
func TestSeriesIsHandedOver(t *testing.T) {
	club := newAPIClub(t)
	id := club.waitingSeries()
	path := "/series/" + id
	text := club.page("cora", path, 200)
	require.Contains(t, text, "Hand it over to")
	require.True(t, strings.Contains(text, club.people["rolf"]) && !strings.Contains(text, club.people["ada"]), "reviewers are offered")
	require.Equal(t, path, club.post("cora", path+"/mentor", url.Values{"mentor": {club.people["rolf"]}}).goesTo())
	require.Contains(t, club.page("ada", path, 200), "The mentor is Name of rolf")
	club.shown(club.post("cora", path+"/mentor", url.Values{"mentor": {club.people["ben"]}}), 400)
	got := decoded[service.SeriesView](club.call("rolf", http.MethodPost, "/api/v1/series/"+id+"/giving-back", nil).is(http.StatusOK))
	require.Equal(t, review.SeriesWaiting, got.Status)
	require.Equal(t, path, club.post("ada", path+"/leave", url.Values{}).goesTo())
	require.Contains(t, club.page("ada", path, 200), "goes on without a mentor")
}

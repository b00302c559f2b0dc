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

func (c *apiClub) newsOf(who string) service.NewsList {
	c.t.Helper()
	return decoded[service.NewsList](c.call(who, "GET", "/api/v1/news", nil).is(http.StatusOK))
}

func (c *apiClub) codes(who string) (codes []review.NewsCode) {
	c.t.Helper()
	for _, l := range c.newsOf(who).Lines {
		codes = append(codes, l.Code)
	}
	return codes
}

// disputes is a review that sees something else and gives another name.
func disputes(v service.SubmissionView) map[string]any {
	return map[string]any{"verdicts": []any{map[string]any{"observation": v.Submission.Cites[0], "kind": "dispute", "note": "a secret note"}},
		"opinion": map[string]any{"kind": "another", "family": "Buprestidae", "basis": "photos"}}
}

// What a submission is told of reaches its owner, is counted on every page, leads there and is read then.
func TestNewsOfAnOwner(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	require.NotContains(t, club.page("ada", "/tables", 200), "not read")
	require.Contains(t, club.page("ada", "/news", 200), "Nothing yet")
	club.call("rita", "POST", at(v, "/reviews"), disputes(v)).is(http.StatusOK)
	club.call("rita", "POST", at(v, "/returns"), map[string]any{"want": "photo", "view": "below", "text": "from below"}).is(http.StatusOK)

	text := club.page("ada", "/news", 200)
	require.Contains(t, text, "Name of rita")
	require.Contains(t, text, "sees something else in 1 character, and gives another name")
	require.Contains(t, text, "asks for another photo")
	require.Contains(t, text, "AB-1")
	require.Contains(t, text, `2<span class="hidden-words"> not read</span>`)
	require.Contains(t, text, "waits for you")
	list := club.newsOf("ada")
	require.Equal(t, 2, list.Unread)
	require.Equal(t, "/submissions/"+v.Submission.ID, club.call("ada", "GET", "/news/"+list.Lines[1].ID, nil).goesTo())
	require.Equal(t, 1, club.newsOf("ada").Unread, "what came later stays unread")
	require.Equal(t, http.StatusNotFound, club.call("ben", "GET", "/news/"+list.Lines[1].ID, nil).status, "somebody else's")

	require.Equal(t, "/news", club.post("ada", "/news", url.Values{"until": {list.Lines[0].At.Format("2006-01-02T15:04:05.000000Z")}}).goesTo())
	require.NotContains(t, club.page("ada", "/news", 200), "not read")
	club.shown(club.post("ada", "/news", url.Values{"until": {"today"}}), http.StatusBadRequest)
	require.Equal(t, []string{"until"}, club.call("ada", "POST", "/api/v1/news/read", map[string]any{}).is(http.StatusBadRequest).fields())
	club.call("ada", "POST", "/api/v1/news/read", map[string]any{"id": "none"}).is(http.StatusNotFound)

	club.call("ada", "POST", at(v, "/answers"), map[string]any{"text": "here it is"}).is(http.StatusOK)
	require.Equal(t, []review.NewsCode{review.NewsAnswered}, club.codes("rita"))
	require.NotContains(t, club.page("ada", "/news", 200), "waits for you", "it was answered")
}

// What a person may not see on the page of a submission yet is not told by news, nor counted: who has not looked hears nothing
// of those who have, and who may be asked what they see reads of others' looks on the page alone, which records that.
func TestNewsTellsNothingThatIsSealed(t *testing.T) {
	club := newAPIClub(t)
	club.chance("reviewers", 3, "blind_rate", 0, "recheck_rate", 0)
	v := club.submitted()
	club.call("rita", "POST", at(v, "/returns"), map[string]any{"want": "specimen", "text": "send it"}).is(http.StatusOK)
	club.call("ada", "POST", at(v, "/answers"), map[string]any{"text": "sent"}).is(http.StatusOK)
	told := club.newsOf("rita")
	require.Equal(t, []review.NewsCode{review.NewsAnswered}, club.codes("rita"))
	require.Empty(t, told.Lines[0].Family, "no name")

	v = club.call("rolf", "POST", at(v, "/reviews"), disputes(v)).is(http.StatusOK).view()
	require.True(t, club.viewOf("rita", v.Submission.ID).Sealed)
	for _, who := range []string{"rita", "ben", "cora", "carl"} {
		page, list := club.page(who, "/news", 200), string(club.call(who, "GET", "/api/v1/news", nil).body)
		for _, sealed := range []string{"Name of rolf", club.people["rolf"], "disputed", "sees something else", "Buprestidae", "secret note", "looked-at"} {
			require.NotContains(t, page, sealed, who)
			require.NotContains(t, list, sealed, who)
		}
	}
	require.Equal(t, told.Unread, club.newsOf("rita").Unread, "no number tells of it")
	club.call("cora", "POST", at(v, "/undetermination"), reason).is(http.StatusOK)
	club.call("cora", "POST", at(v, "/reopening"), reason).is(http.StatusOK)
	require.Equal(t, []review.NewsCode{review.NewsAnswered}, club.codes("rita"), "she has not looked, and is not told how it ended")
	require.Equal(t, []review.NewsCode{review.NewsReopened, review.NewsUndetermined}, club.codes("rolf"))
}

// An owner who also reviews is told that somebody has looked, and no more: what was said is recorded as shown by the page.
func TestNewsOfAnOwnerWhoReviews(t *testing.T) {
	club := newAPIClub(t)
	v := club.call("rita", "POST", "/api/v1/submissions", club.form("rita")).is(http.StatusCreated).view()
	club.call("rolf", "POST", at(v, "/reviews"), disputes(v)).is(http.StatusOK)
	list := club.newsOf("rita")
	require.Equal(t, review.NewsLookedAt, list.Lines[0].Code)
	require.Equal(t, review.NewsAbout{}, list.Lines[0].About)
	require.NotContains(t, club.page("rita", "/news", 200), "something else")
}

// A proposed change is told to the other curators, and to nobody else.
func TestNewsOfProposals(t *testing.T) {
	club := newAPIClub(t)
	proposal := club.proposed() // by Carl
	require.Equal(t, []review.NewsCode{review.NewsProposalWaits}, club.codes("cora"))
	for _, who := range []string{"carl", "ada", "rita"} {
		require.Empty(t, club.codes(who), who)
	}
	require.Contains(t, club.page("cora", "/news", 200), "waits for a second curator")
	place := club.call("cora", "GET", "/news/"+club.newsOf("cora").Lines[0].ID, nil).goesTo()
	require.True(t, strings.HasSuffix(place, "/changes/"+proposal.ID), place)
	club.page("cora", place, 200)
}

// TestNewsOfASubmissionStandsTogether: one entry for each submission, with a line for each thing that happened; going to it reads all
// that was told of it before, and nothing of others.
func TestNewsOfASubmissionStandsTogether(t *testing.T) {
	club := newAPIClub(t)
	first, second := club.submitted(), club.submitted()
	for _, v := range []service.SubmissionView{first, second} {
		club.call("rita", "POST", at(v, "/reviews"), disputes(v)).is(http.StatusOK)
	}
	club.call("cora", "POST", at(first, "/undetermination"), reason).is(http.StatusOK)
	actor := club.actor("ada")
	list, err := club.server.Service.News(t.Context(), actor, false, service.Page{})
	require.NoError(t, err)
	require.Equal(t, 3, list.Unread)
	text := club.page("ada", "/news", 200)
	require.Equal(t, 2, strings.Count(text, `<li class="unread">`))
	require.Equal(t, 2, strings.Count(text, `href="/news/`))
	require.Equal(t, first.Submission.ID, list.Lines[0].Submission, "the latest")
	require.Equal(t, "/submissions/"+first.Submission.ID, club.call("ada", "GET", "/news/"+url.PathEscape(list.Lines[0].ID), nil).goesTo())
	left, err := club.server.Service.News(t.Context(), actor, true, service.Page{})
	require.NoError(t, err)
	require.Equal(t, 1, left.Unread)
	require.Equal(t, second.Submission.ID, left.Lines[0].Submission)
}

package web

import (
	"net/http"
	"net/url"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
	"revidit/review/service"
	"revidit/web/pages"
)

// TestFirstVisitOnWhatIsMadeUp: a club in which nothing is finished shows everything on what its tables make up. It is offered to who has
// done nothing, is left and found again where it was left, and is offered no more once it is finished.
func TestFirstVisitOnWhatIsMadeUp(t *testing.T) {
	club := newAPIClubWith(t, diagnosis.All())
	steps := map[string][]string{
		"ada":  {"One that is finished", "One question", "Your own"},
		"rita": {"A character that was confirmed", "A character that somebody saw otherwise", "What waits for you"},
		"cora": {"What does not fit", "What new tables put in doubt", "What waits for your decision"},
	}
	ends := map[string]string{"ada": beginPath, "rita": "/queue", "cora": "/#ledger"}
	for who, titles := range steps {
		require.Contains(t, club.page(who, "/", 200), "Three steps on real examples", who)
		require.Equal(t, "/visit/1", club.call(who, "GET", "/visit", nil).goesTo())
		for i, title := range titles {
			text := club.page(who, pages.VisitURL(i+1), 200)
			require.Contains(t, text, "<h1>"+title+"</h1>", who)
			if i == 0 {
				require.Contains(t, text, "made up from the diagnosis tables", who)
			}
		}
		require.Equal(t, "/visit/2", club.post(who, "/visit", url.Values{"do": {"2"}}).goesTo())
		require.Equal(t, "/visit/2", club.call(who, "GET", "/visit", nil).goesTo(), "it goes on where it was left")
		require.Contains(t, club.page(who, "/", 200), "Three steps on real examples")
		require.Equal(t, ends[who], club.post(who, "/visit", url.Values{"do": {pages.VisitEnd}}).goesTo())
		require.NotContains(t, club.page(who, "/", 200), "Three steps on real examples", "it is finished")
	}
	require.Equal(t, "/", club.post("ben", "/visit", url.Values{"do": {pages.VisitNever}}).goesTo())
	require.NotContains(t, club.page("ben", "/", 200), "Three steps on real examples", "it is not wanted")
	for _, wrong := range []string{"0", "4", "", "x"} {
		require.Equal(t, http.StatusBadRequest, club.post("ben", "/visit", url.Values{"do": {wrong}}).status, wrong)
		club.page("ben", "/visit/"+url.PathEscape("n"+wrong), 404)
	}
	require.Equal(t, "/login?next=%2Fvisit%2F1", club.call("", "GET", "/visit/1", nil).goesTo())
}

// TestTheStandingSentenceMoves: the one question is asked with its drawings, and each answer gives what the tables make of it.
func TestTheStandingSentenceMoves(t *testing.T) {
	club := newAPIClubWith(t, diagnosis.All())
	judge, err := club.server.Service.Judge(t.Context(), "coleoptera-adults")
	require.NoError(t, err)
	e, ok := judge.Example()
	require.True(t, ok)
	found, err := club.server.Service.VisitFinished(t.Context(), club.actor("ada"))
	require.NoError(t, err)
	require.True(t, found.MadeUp)
	require.Equal(t, e.Telling.State, found.Observation.State, "it is asked for what tells")

	asked := club.page("ada", "/visit/2", 200)
	require.Contains(t, asked, "Without it:")
	require.NotContains(t, asked, "With your answer:")
	right := club.page("ada", "/visit/2?state="+e.Telling.State, 200)
	wrong := club.page("ada", "/visit/2?state="+e.Instead.State, 200)
	standing := regexp.MustCompile(`With your answer:</strong> ([^<]*)`)
	require.NotEqual(t, standing.FindStringSubmatch(right)[1], standing.FindStringSubmatch(wrong)[1])
	require.Contains(t, wrong, "You chose otherwise")
	require.NotContains(t, right, "You chose otherwise")
	club.page("ada", "/visit/2?state=no-such-state", 404)
}

// TestFirstVisitOnTheClubsOwn: what the club has finished is shown in place of it, what is open never is, and whoever has done
// something is not offered a first visit.
func TestFirstVisitOnTheClubsOwn(t *testing.T) {
	club := newAPIClubWith(t, diagnosis.All())
	v := club.clickBeetle("ada")
	disputed := v.Specimen.Observations[0]
	verdicts := []map[string]string{{"observation": disputed.ID, "kind": "dispute", "better": otherState(t, club, disputed.Character, disputed.State)}}
	for _, o := range v.Specimen.Observations[1:] {
		verdicts = append(verdicts, map[string]string{"observation": o.ID, "kind": "confirm"})
	}
	club.call("rolf", "POST", at(v, "/reviews"), map[string]any{"verdicts": verdicts}).is(http.StatusOK)
	for who, step := range map[string]string{"ben": "/visit/1", "rita": "/visit/2", "cora": "/visit/1"} {
		text := club.page(who, step, 200)
		require.Contains(t, text, "made up from the diagnosis tables", who)
		require.NotContains(t, text, v.Submission.ID, "it is open: what was said of it is sealed")
	}
	club.call("cora", "POST", at(v, "/undetermination"), reason).is(http.StatusOK)
	text := club.page("rita", "/visit/2", 200)
	require.Contains(t, text, v.Submission.ID)
	require.Contains(t, text, "sees something else (")
	require.NotContains(t, text, "made up from")
	require.NotContains(t, club.page("ada", "/", 200), "Three steps on real examples", "she has submitted")
	require.NotContains(t, club.page("rolf", "/", 200), "Three steps on real examples", "he has judged")
	require.Contains(t, club.page("ben", "/", 200), "Three steps on real examples")
	require.Contains(t, club.page("ada", "/visit/1", 200), "made up from", "one's own is no example")
}

// otherState is a state of a character that is another one.
func otherState(t testing.TB, club *apiClub, character, state string) string {
	t.Helper()
	judge, err := club.server.Service.Judge(t.Context(), "coleoptera-adults")
	require.NoError(t, err)
	c, ok := judge.Tables().Character(character)
	require.True(t, ok)
	for _, s := range c.States {
		if s.ID != state {
			return s.ID
		}
	}
	require.Fail(t, "it has one state alone")
	return ""
}

// clickBeetle is one that somebody has submitted, with four characters that are drawn.
func (c *apiClub) clickBeetle(who string) service.SubmissionView {
	c.t.Helper()
	observed := []map[string]any{}
	for character, state := range map[string]string{"antenna-form": "serrate", "prosternal-process": "click-spine", "head-from-above": "visible", "elytra-texture": "hard"} {
		observed = append(observed, map[string]any{"character": character, "state": state, "sureness": "sure"})
	}
	form := map[string]any{"group": "coleoptera-adults", "family": "Elateridae", "label": map[string]any{"catalogue_number": "V-1"},
		"photos": []map[string]any{{"photo": c.upload(who), "view": "whole-below"}}, "observations": observed}
	return decoded[service.SubmissionView](c.call(who, "POST", "/api/v1/submissions", form).is(http.StatusCreated))
}

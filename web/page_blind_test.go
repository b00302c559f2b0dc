package web

import (
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/service"
)

func (c *apiClub) version(who string, v service.SubmissionView) string {
	c.t.Helper()
	look, err := c.server.Service.BlindLook(c.t.Context(), c.actor(who), v.Submission.ID)
	require.NoError(c.t, err)
	return strconv.Itoa(look.Version)
}

func TestBlindCheckOnAPage(t *testing.T) {
	club := newAPIClub(t)
	v := club.asked()
	path := "/submissions/" + v.Submission.ID
	for _, from := range []string{path, path + "/review", path + "/history", path + "/answer", path + "/edit", "/specimens/" + v.Submission.Specimen} {
		require.Equal(t, path+"/blind", club.call("rita", http.MethodGet, from, nil).goesTo(), from)
	}
	require.Equal(t, path+"/blind", club.post("rita", path+"/hold", url.Values{"version": {"3"}}).goesTo())

	text := club.page("rita", path+"/blind", 200)
	require.Contains(t, text, "Abdominal plates")
	require.Contains(t, text, "Count them.")
	require.Contains(t, text, "drawn by chance")
	require.Contains(t, text, "AB-1")
	require.Contains(t, text, `class="mark"`, "the place is marked")
	require.Contains(t, text, "not visible on these photos")

	fields := url.Values{"version": {club.version("rita", v)}, "character": {"ventrites"}, "state": {"many"}, "note": {"a note to keep"}}
	text = club.shown(club.post("rita", path+"/blind", fields), 400)
	require.Contains(t, text, `value="many"`)
	require.Contains(t, text, "a note to keep")
	require.Contains(t, text, `href="#f-state"`)
	fields.Set("state", "6")
	fields.Set("version", "1")
	require.Contains(t, club.shown(club.post("rita", path+"/blind", fields), http.StatusConflict), `value="6"`)
	fields.Set("character", "antenna-form")
	require.NotContains(t, club.shown(club.post("rita", path+"/blind", fields), http.StatusConflict), `value="6"`, "an answer to another question")

	fields.Set("version", club.version("rita", v))
	next := club.post("rita", path+"/blind", fields).goesTo()
	require.Equal(t, path+"/review?looked=blind", next)
	text = club.page("rita", next, 200)
	require.Contains(t, text, "your blind look is saved")
	require.Contains(t, text, "You looked at this one blind: saw 6")
	require.Contains(t, text, "Elateridae")
	require.Equal(t, path, club.call("rita", http.MethodGet, path+"/blind", nil).goesTo(), "there is nothing more to look at blind")
	require.Equal(t, path, club.post("rita", path+"/blind", fields).goesTo(), "saved twice is saved once")
	require.Contains(t, club.page("ada", path, 200), "looking blind")
	require.Contains(t, club.page("ada", path+"/history", 200), "looked blind at one character")
	require.NotContains(t, club.page("rolf", path+"/history", 200), "looked blind at one character")
}

func TestBlindCheckOfStatesOnAPage(t *testing.T) {
	club := newAPIClub(t)
	club.draws("rita")
	form := club.form("ada")
	form["observations"] = []any{map[string]any{"character": "antenna-form", "state": "serrate"}}
	v := club.call("ada", http.MethodPost, "/api/v1/submissions", form).is(http.StatusCreated).view()
	path := "/submissions/" + v.Submission.ID + "/blind"
	text := club.page("rita", path, 200)
	for _, label := range []string{"thread-like", "saw-like", "thickening"} {
		require.Contains(t, text, label)
	}
	require.NotContains(t, text, "checked", "nothing is chosen for them")
	require.NotContains(t, text, `class="mark"`)
	none := url.Values{"version": {club.version("rita", v)}, "character": {"antenna-form"}}
	require.Contains(t, club.shown(club.post("rita", path, none), 400), "choose what you see")
	none.Set("state", "none:part-missing")
	club.post("rita", path, none).goesTo()
	require.Equal(t, review.VerdictPartMissing, club.viewOf("rita", v.Submission.ID).Submission.Blind[0].Kind)
}

func TestPanelOnAPage(t *testing.T) {
	club := newAPIClub(t)
	v := club.closed()
	path := "/submissions/" + v.Submission.ID
	require.Equal(t, path+"/blind", club.call("rita", http.MethodGet, path, nil).goesTo())
	text := club.page("rita", path+"/blind", 200)
	require.Contains(t, text, "Which family is it?")
	require.Contains(t, text, "I leave the panel")
	require.Contains(t, text, `<option value="Drilidae">`, "old names are offered")

	fields := url.Values{"version": {club.version("rita", v)}, "answer": {"named"}, "note": {"a note to keep"}}
	require.Contains(t, club.shown(club.post("rita", path+"/panel", fields), 400), "a note to keep")
	fields.Set("named", "Nonidae")
	require.Contains(t, club.shown(club.post("rita", path+"/panel", fields), 400), `href="#f-named"`)
	fields.Set("answer", "none")
	require.Contains(t, club.shown(club.post("rita", path+"/panel", fields), 400), `href="#f-answer"`)
	fields.Set("named", "")
	require.Equal(t, path+"?looked=recheck", club.post("rita", path+"/panel", fields).goesTo())
	text = club.page("rita", path+"?looked=recheck", 200)
	require.Contains(t, text, "your answer is saved")
	require.Contains(t, text, "none of the listed ones")

	next := club.post("rolf", path+"/panel/leave", url.Values{"version": {club.version("rolf", v)}}).goesTo()
	require.Equal(t, path+"?looked=left", next)
	require.Contains(t, club.page("rolf", next, 200), "You have left the panel")
	require.Contains(t, club.page("ada", path, 200), "2 more looks are needed")
}

func TestBlindLinesOnPages(t *testing.T) {
	club := newAPIClub(t)
	club.draws("rita")
	v := club.submitted()
	path := "/submissions/" + v.Submission.ID
	for _, page := range []string{"/", "/queue", "/submissions"} {
		text := club.page("rita", page, 200)
		require.Contains(t, text, "to be looked at blind", page)
		require.Contains(t, text, `href="`+path+`/blind"`, page)
		require.NotContains(t, text, `href="`+path+`"`, page)
		require.Contains(t, text, "AB-1", page)
	}
	require.Contains(t, club.page("rita", "/queue", 200), "Drawn by chance for a blind look by you")
	require.Contains(t, club.page("rolf", "/queue", 200), "One more look by you (antenna) is expected to tell")
	club.call("rolf", "POST", at(v, "/returns"), map[string]any{"want": "specimen", "text": "send it"}).is(http.StatusOK)
	require.Contains(t, club.page("rita", "/submissions", 200), "when it is back from its owner")
	text := club.shown(club.call("rita", http.MethodGet, path, nil), http.StatusConflict)
	require.Contains(t, text, "Not yet")
	require.Contains(t, text, "it is with its owner at present")
	club.shown(club.call("rita", http.MethodGet, path+"/blind", nil), http.StatusConflict)
}

func TestRechecksInTheQueue(t *testing.T) {
	club := newAPIClub(t)
	v := club.closed()
	text := club.page("rita", "/queue", 200)
	require.Contains(t, text, "closed; drawn for a blind recheck")
	require.Contains(t, text, `href="/submissions/`+v.Submission.ID+`/blind"`)
	require.NotContains(t, club.page("carl", "/queue", 200), v.Submission.ID, "curators are never drawn")
	require.Contains(t, club.page("rita", "/submissions", 200), "closed; drawn for a blind recheck")
}

func TestClubListOnAPage(t *testing.T) {
	club := newAPIClub(t)
	fields := url.Values{"version": {"0"}, "reviewers": {"2"}, "confidence": {"0.9"}, "hold_minutes": {"20"}, "holds_at_once": {"3"}, "reason": {"what flies here"},
		"blind_rate": {"0.2"}, "recheck_rate": {"0"}, "panel": {"5"}, "list": {"Drilidae\t3\r\n\r\nElateridae 2\nElateridae\nBuprestidae many"}}
	text := club.shown(club.post("cora", "/policy", fields), 400)
	for _, words := range []string{"Line 3 names Elateridae, which stands on the list already", "Line 4 must be a name and a number", "Line 5 must be", "what flies here"} {
		require.Contains(t, text, words)
	}
	fields.Set("list", "Nonidae 4")
	require.Contains(t, club.shown(club.post("cora", "/policy", fields), 400), "Is not a family of these tables")

	fields.Set("list", "Drilidae\t9\r\nBuprestidae; 1")
	fields.Set("do", "try")
	text = club.shown(club.post("cora", "/policy", fields), 200)
	// Shares 9 and 1 of what the hypothesis "none of them" leaves, which is 2 %.
	require.Contains(t, text, `data-label="With what is typed above">88 %`)
	require.Contains(t, text, `data-label="With what is typed above">9.8 %`)
	require.Contains(t, club.page("cora", "/policy", 200), "Version 0", "nothing was put in force")

	fields.Del("do")
	club.post("cora", "/policy", fields).goesTo()
	text = club.page("ben", "/policy", 200)
	require.Contains(t, text, "own list of 2 names")
	require.Contains(t, text, "20 % begin with a blind look")
	require.Contains(t, text, "No closed determination is looked at again blind")
	require.Contains(t, text, `data-label="In force">88 %`)
	require.Contains(t, club.page("cora", "/policy", 200), "Elateridae 9\nBuprestidae 1")

	v := club.submitted()
	require.Contains(t, club.page("ada", "/submissions/"+v.Submission.ID, 200), "what the club expects here, version 1 of the policy")
}

// German keyboards write a comma. Forms read numbers in one place, review.Typed…, which takes both.
func TestNumbersAreReadAsPeopleTypeThem(t *testing.T) {
	require.Equal(t, "7.5", blindForm(&sentForm{values: url.Values{"state": {"7,5"}}}).State)
	tables := diagnosis.Default()
	length, ok := tables.Character("body-length-mm")
	require.True(t, ok)
	require.Equal(t, "7.5", stateNamed(length, "7,5"))
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	for _, file := range files {
		code, err := os.ReadFile(file)
		require.NoError(t, err)
		if !strings.HasSuffix(file, "_test.go") {
			require.NotContains(t, string(code), "strconv.ParseFloat", "%s: read it with review.TypedNumber", file)
		}
	}
}

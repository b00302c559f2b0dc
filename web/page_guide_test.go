package web

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/service"
	"revidit/web/pages"
)

// begun is a draft of a beginning of somebody: a photo of the underside, a name and a number.
func (c *apiClub) begun(who, family string) (id string) {
	c.t.Helper()
	fields := url.Values{"group": {"coleoptera-adults"}, "family": {family}, "label.catalogue_number": {"G-1"}, "photos[0].photo": {c.upload(who)}, "photos[0].view": {"whole-below"},
		"do": {"begin"}, "key": {"begin-" + family}}
	to := c.postFiles(who, beginPath, fields).goesTo()
	id, ok := strings.CutSuffix(strings.TrimPrefix(to, "/submissions/"), "/ask")
	require.True(c.t, ok, to)
	return id
}

// tells presses a button of a question, and returns where that leads.
func (c *apiClub) tells(who, id, group, character, answer string, more ...string) string {
	c.t.Helper()
	fields := url.Values{"answer": {answer}}
	for i := 0; i < len(more); i += 2 {
		fields.Set(more[i], more[i+1])
	}
	return c.post(who, string(pages.AskURL(id, group, character)), fields).goesTo()
}

func questionIn(t testing.TB, address string) (group, character string) {
	t.Helper()
	parsed, err := url.Parse(address)
	require.NoError(t, err)
	return parsed.Query().Get("group"), parsed.Query().Get("character")
}

// TestOneQuestionAfterAnother goes the whole way without script: whether it is a beetle at all, characters one by one, each asked
// once, and the draft as the record of all answers.
func TestOneQuestionAfterAnother(t *testing.T) {
	club := newAPIClubWith(t, diagnosis.All())
	id := club.begun("ada", "click beetle")
	require.Equal(t, "Elateridae", club.viewOf("ada", id).Submission.Determination.Family, "a common name leads to the family")

	text := club.page("ada", club.call("ada", http.MethodGet, "/submissions/"+id+"/ask", nil).goesTo(), http.StatusOK)
	require.Contains(t, text, "Is it one of the Coleoptera?")
	judge, err := club.server.Service.Judge(t.Context(), "coleoptera-adults")
	require.NoError(t, err)
	to := ""
	for _, n := range judge.WiderQuestions() {
		to = club.tells("ada", id, n.Group, n.Character, pages.AnswerWhy+string(review.UnseenHidden))
	}
	seen := map[string]bool{}
	for range 5 {
		group, character := questionIn(t, to)
		require.Empty(t, group)
		require.False(t, seen[character], "%s is asked twice", character)
		seen[character] = true
		c, ok := judge.Tables().Character(character)
		require.True(t, ok, to)
		text = club.page("ada", to, http.StatusOK)
		require.Contains(t, text, "<h1>"+c.Label+"</h1>")
		state := "5"
		if len(c.States) > 0 {
			state = c.States[0].ID
		}
		to = club.tells("ada", id, "", character, pages.AnswerState+state)
	}
	v := club.viewOf("ada", id)
	require.Len(t, v.Submission.Cites, 5)
	require.Len(t, v.Submission.Unseen, len(judge.WiderQuestions()))
	require.Contains(t, club.page("ada", "/submissions/"+id+"/edit", http.StatusOK), "1 of ", "counts that are true")
	require.Contains(t, club.page("ada", to, http.StatusOK), "5 of "+strconv.Itoa(len(judge.Tables().Characters)))
}

// TestWhatCouldNotBeSeenKeepsItsMeaning: the four answers that are no states are different things, and stay so until the
// submission is read by others.
func TestWhatCouldNotBeSeenKeepsItsMeaning(t *testing.T) {
	club := newAPIClubWith(t, diagnosis.All())
	id := club.begun("ada", "Elateridae")
	for character, why := range map[string]review.WhyUnseen{"hind-coxal-plates": review.UnseenHidden, "labrum": review.UnseenPhoto, "antenna-segments": review.UnseenBroken} {
		club.tells("ada", id, "", character, pages.AnswerWhy+string(why))
	}
	to := club.tells("ada", id, "", "prosternal-process", pages.AnswerWhy+string(review.UnseenNotKnown))
	lesson := club.page("ada", to, http.StatusOK)
	judge, err := club.server.Service.Judge(t.Context(), "coleoptera-adults")
	require.NoError(t, err)
	spine, _ := judge.Tables().Character("prosternal-process")
	require.Contains(t, lesson, spine.How[:20], "a lesson about the part")
	_, simple := questionIn(t, to)
	require.NotEqual(t, "prosternal-process", simple)

	club.tells("ada", id, "", "ventrites", pages.AnswerState+"5")
	check := club.page("ada", "/submissions/"+id+"/check", http.StatusOK)
	require.Contains(t, check, "hidden by card or glue")
	require.Contains(t, check, "A photo would help")
	v := club.viewOf("ada", id)
	require.Equal(t, "/submissions/"+id, club.post("ada", "/submissions/"+id+"/check", url.Values{"version": {strconv.Itoa(v.Version)}, "do": {"submit"}}).goesTo())

	v = club.viewOf("rita", id)
	require.Equal(t, review.StatusOpen, v.Submission.Status)
	require.Len(t, v.Submission.Unseen, 4)
	require.Equal(t, "antenna", v.Specimen.Label.MissingParts, "what has broken off stands with the specimen")
	text := club.page("rita", "/submissions/"+id, http.StatusOK)
	require.Contains(t, text, "What could not be seen")
	require.Contains(t, text, "broken off")
}

// TestWhatIsChangedAfterAWarningSaysSo: what does not fit is shown before anything is submitted; a state that is changed then is
// after a hint, one that is kept is not, and none of it can be undone by taking the answer back in between.
func TestWhatIsChangedAfterAWarningSaysSo(t *testing.T) {
	club := newAPIClubWith(t, diagnosis.All())
	id := club.begun("ada", "Elateridae")
	club.tells("ada", id, "", "ventrites", pages.AnswerState+"5")
	to := club.tells("ada", id, "", "rostrum", pages.AnswerState+"long")
	text := club.page("ada", to, http.StatusOK)
	require.Contains(t, text, "Never in Elateridae")
	require.NotContains(t, club.page("ada", "/submissions/"+id+"/ask?character=labrum", http.StatusOK), "Submit for review", "not with one press")

	hinted := func() map[string]bool {
		found := map[string]bool{}
		v := club.viewOf("ada", id)
		for _, o := range v.Specimen.Observations {
			found[o.Character] = o.AfterHint
		}
		return found
	}
	require.Equal(t, map[string]bool{"ventrites": false, "rostrum": false}, hinted())
	club.tells("ada", id, "", "rostrum", pages.AnswerBack)
	club.tells("ada", id, "", "rostrum", pages.AnswerState+"none")
	require.Equal(t, map[string]bool{"ventrites": false, "rostrum": true}, hinted())
	club.tells("ada", id, "", "rostrum", pages.AnswerState+"long")
	require.Equal(t, map[string]bool{"ventrites": false, "rostrum": false}, hinted(), "whoever stands by it has not followed the hint")

	fields := club.submissionFields("ben")
	fields.Set("group", "coleoptera-adults")
	fields.Set("photos[0].view", "whole-below")
	fields.Set("obs[rostrum].state", "long")
	first := club.postFiles("ben", "/submissions", fields).goesTo()
	require.True(t, strings.HasSuffix(first, "/check"), "what does not fit is seen before it is submitted: %s", first)
	require.Contains(t, club.page("ben", first, http.StatusOK), "Submit all the same")
}

// TestTheStandingSentenceLeaksNothing: what a draft of a registered specimen says of its name rests on its own observations alone, whatever others have said of the specimen meanwhile.
func TestTheStandingSentenceLeaksNothing(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	form := club.form("ben")
	form["specimen"], form["draft"], form["photos"], form["observations"] = v.Specimen.ID, true, []any{}, []any{map[string]any{"character": "antenna-form", "state": "serrate"}}
	draft := club.call("ben", "POST", "/api/v1/submissions", form).is(http.StatusCreated).view()
	guide := func() service.Guide {
		g, err := club.server.Service.Guide(t.Context(), club.actor("ben"), draft.Submission.ID)
		require.NoError(t, err)
		return g
	}
	before := guide()
	review := map[string]any{"verdicts": []any{map[string]any{"observation": v.Submission.Cites[0], "kind": "dispute", "better": "9"}}}
	club.call("rita", "POST", at(v, "/reviews"), review, "If-Match", club.call("rita", "GET", at(v, ""), nil).header.Get("ETag")).is(http.StatusOK)
	require.Equal(t, before.Alone, guide().Alone)
	require.Equal(t, before.Next, guide().Next)
}

// TestADraftHoldsAnything: what cannot be taken as it is is kept as it was typed, comes back with the form, and stops nothing but
// submitting.
func TestADraftHoldsAnything(t *testing.T) {
	club := newAPIClub(t)
	fields := club.submissionFields("ada")
	wrong := map[string]string{"withheld.latitude": "north", "label.count": "two", "label.collected_from": "yesterday", "family": "Nosuchidae <em>",
		"obs[ventrites].state": "99", "obs[ventrites].left": "7", "qualifier": "cf.", "remarks": strings.Repeat("long ", 600)}
	for field, text := range wrong {
		fields.Set(field, text)
	}
	fields.Set("photos[0].view", "")
	fields.Set("do", "draft")
	to := club.postFiles("ada", "/submissions", fields).goesTo()
	id := strings.TrimSuffix(strings.TrimPrefix(to, "/submissions/"), "/edit")
	require.Equal(t, "/submissions/"+id+"/edit", to, "the form comes back to be corrected")
	text := club.page("ada", to, http.StatusOK)
	for _, kept := range []string{`value="north"`, `value="two"`, `value="yesterday"`, `value="Nosuchidae &lt;em&gt;"`, `value="99"`, `value="7"`, `value="Austria"`} {
		require.Contains(t, text, kept)
	}
	require.Contains(t, text, "The draft is saved, with all that you typed.")
	require.Contains(t, text, `href="#f-withheld-latitude"`)
	v := club.viewOf("ada", id)
	require.Equal(t, "Austria", v.Specimen.Label.Country)
	require.Len(t, v.Submission.Photos, 1)

	fields.Set("version", strconv.Itoa(v.Version))
	fields.Set("do", "submit")
	require.Contains(t, club.shown(club.postFiles("ada", to, fields), http.StatusBadRequest), "Nothing was stored")
	refused := club.call("ada", "POST", at(v, "/submit"), nil, "If-Match", "*")
	require.Equal(t, http.StatusBadRequest, refused.status, string(refused.body))

	for field := range wrong {
		fields.Del(field)
	}
	fields.Set("family", "Elateridae")
	fields.Set("photos[0].view", "below")
	fields.Set("obs[ventrites].state", "5")
	fields.Del("obs[ventrites].left")
	fields.Del("withheld.longitude")
	require.Equal(t, "/submissions/"+id, club.postFiles("ada", to, fields).goesTo())
	require.Equal(t, review.StatusOpen, club.viewOf("ada", id).Submission.Status)
}

// TestADraftSavesItself: what the script sends is stored, and the answer says where the form goes on.
func TestADraftSavesItself(t *testing.T) {
	club := newAPIClub(t)
	fields := club.submissionFields("ada")
	fields.Set("do", "save")
	said := decoded[savedAnswer](club.postFiles("ada", "/submissions", fields).is(http.StatusOK))
	require.Equal(t, "/submissions/"+said.Draft+"/edit", said.Action)
	fields.Set("remarks", "more")
	fields.Set("version", strconv.Itoa(said.Version))
	again := decoded[savedAnswer](club.postFiles("ada", said.Action, fields).is(http.StatusOK))
	require.Greater(t, again.Version, said.Version)
	require.Equal(t, "more", club.viewOf("ada", said.Draft).Submission.Remarks)
	require.Len(t, club.linesOf("ada"), 1)
	fields.Set("remarks", "from another window")
	stale := club.postFiles("ada", said.Action, fields)
	require.Equal(t, http.StatusPreconditionFailed, stale.status)
	require.Contains(t, decoded[savedAnswer](stale).Words, "has changed")
}

// TestAFormOutlivesItsLogin: what is sent when the login has run out is kept for its sender alone, and comes back as it was.
func TestAFormOutlivesItsLogin(t *testing.T) {
	clock := time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)
	club := newAPIClub(t, func(_ *Config, o *auth.Options) { o.Now = func() time.Time { return clock } })
	fields := club.submissionFields("ada")
	fields.Set("remarks", "typed for an hour")
	old := club.token("ada")
	clock = clock.Add(auth.TokenLife + time.Minute)
	r := club.postFiles("ada", "/submissions", fields, file{"a.jpg", picture(t, 1)})
	to, err := url.Parse(r.goesTo())
	require.NoError(t, err)
	require.Equal(t, "/login", to.Path)
	kept := to.Query().Get("next")
	require.True(t, strings.HasPrefix(kept, keptPath), kept)
	require.Contains(t, club.browse(http.MethodGet, to.String()).Body.String(), "comes back when you have logged in")
	require.Empty(t, club.linesOf("ada"), "nothing is done by itself")

	club.forget()
	require.NotEqual(t, old, club.token("ada"))
	text := club.page("ada", kept, http.StatusOK)
	require.Contains(t, text, "typed for an hour")
	require.Contains(t, text, `action="/submissions"`)
	require.Contains(t, text, `value="`+fields.Get("photos[0].photo")+`"`)
	club.page("ben", kept, http.StatusNotFound)

	clock = clock.Add(auth.TokenLife + time.Minute)
	r = club.post("ada", "/policy", url.Values{"reason": {"a <reason>"}})
	to, err = url.Parse(r.goesTo())
	require.NoError(t, err)
	club.forget()
	text = club.page("ada", to.Query().Get("next"), http.StatusOK)
	require.Contains(t, text, `action="/policy"`)
	require.Contains(t, text, `value="a &lt;reason&gt;"`)

	// Nobody whose login it never was has anything kept.
	anonymous := club.call("", http.MethodPost, "/submissions", url.Values{"remarks": {"x"}}.Encode(), "Content-Type", "application/x-www-form-urlencoded", "Sec-Fetch-Site", "same-origin")
	require.Equal(t, "/login", anonymous.goesTo())
}

// forget lets everybody log in anew.
func (c *apiClub) forget() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.tokens = map[string]string{}
}

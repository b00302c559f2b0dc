package web

import (
	"net/http"
	"net/url"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

func reviewFields(v service.SubmissionView) url.Values {
	o := v.Submission.Cites[0]
	return url.Values{"version": {strconv.Itoa(v.Version)}, "verdict[" + o + "].kind": {"dispute"}, "verdict[" + o + "].better": {"6"},
		"verdict[" + o + "].note": {"the last one is <em>hidden</em>"}, "opinion.kind": {"left-open"}, "opinion.basis": {"photos"}, "opinion.note": {"a second look"}}
}

func TestReviewWithAPage(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	path := "/submissions/" + v.Submission.ID
	require.Equal(t, "/queue/next?saved="+v.Submission.ID, club.post("rita", path+"/review", reviewFields(v)).goesTo(), "on to the next one")
	got := club.viewOf("rita", v.Submission.ID).Submission
	require.Equal(t, review.VerdictDispute, got.Verdicts[0].Kind)
	require.Equal(t, "6", got.Verdicts[0].Better)
	require.Equal(t, review.OpinionLeftOpen, got.Opinions[0].Kind)

	text := club.page("ada", path, 200)
	require.Contains(t, text, "the last one is &lt;em&gt;hidden&lt;/em&gt;", "typed text is text")
	require.NotContains(t, text, "<em>hidden")
	require.NotContains(t, club.page("rolf", path, 200), "the last one is", "sealed until he has saved his own")
	history := club.page("rolf", path+"/history", 200)
	require.Contains(t, history, "Closed until you have saved yours")
	require.NotContains(t, history, "sees something else")
	require.Contains(t, club.page("rita", path+"/history", 200), "sees something else")
}

// The owner has answered meanwhile: nothing that was typed is lost, and saving again takes it.
func TestStaleReviewKeepsWhatWasTyped(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	path := "/submissions/" + v.Submission.ID + "/review"
	fields := reviewFields(v)
	club.post("rolf", path, url.Values{"version": {strconv.Itoa(v.Version)}, "opinion.kind": {"agrees"}, "opinion.basis": {"photos"}, "sure": {"partly"}}).goesTo()
	club.call("ada", "POST", at(v, "/answers"), map[string]any{"text": "counted again"}).is(http.StatusOK)

	text := club.shown(club.post("rita", path, fields), http.StatusConflict)
	require.Contains(t, text, "has changed since you opened it")
	require.Contains(t, text, "the last one is &lt;em&gt;hidden&lt;/em&gt;")
	require.Contains(t, text, `value="dispute" checked`)
	require.Contains(t, text, `value="left-open" checked`)
	require.Contains(t, text, "a second look")
	require.NotContains(t, text, "Name of rolf", "what the other one said stays closed")

	fields.Set("version", strconv.Itoa(club.viewOf("rita", v.Submission.ID).Version))
	club.post("rita", path, fields).goesTo()
}

func TestReviewThatOtherHoldsKeepsWhatWasTyped(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	path := "/submissions/" + v.Submission.ID
	club.post("rolf", path+"/hold", url.Values{"version": {strconv.Itoa(v.Version)}}).goesTo()
	fields := reviewFields(v)
	fields.Set("version", strconv.Itoa(v.Version))
	text := club.shown(club.post("rita", path+"/review", fields), http.StatusConflict)
	require.Contains(t, text, "Another reviewer holds this submission")
	require.Contains(t, text, "a second look")
}

func TestReviewFormNamesTheWrongRow(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	path := "/submissions/" + v.Submission.ID + "/review"
	o := v.Submission.Cites[0]
	fields := url.Values{"version": {strconv.Itoa(v.Version)}, "verdict[" + o + "].note": {"a verdict forgotten"}}
	text := club.shown(club.post("rita", path, fields), http.StatusBadRequest)
	require.Contains(t, text, `-kind-wrong"`)
	require.Contains(t, text, "a verdict forgotten")

	nothing := club.shown(club.post("rita", path, url.Values{"version": {strconv.Itoa(v.Version)}}), http.StatusBadRequest)
	require.Contains(t, nothing, "say something about at least one character")
	noVersion := club.shown(club.post("rita", path, reviewFields(service.SubmissionView{Submission: review.Submission{Cites: v.Submission.Cites}})), http.StatusConflict)
	require.Contains(t, noVersion, "has changed since you opened it", "a form without its version is not taken for any version")
}

func TestActsOnAPage(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	path := "/submissions/" + v.Submission.ID
	act := func(who, action string, fields url.Values) *reply {
		fields.Set("version", strconv.Itoa(club.viewOf(who, v.Submission.ID).Version))
		return club.post(who, path+"/"+action, fields)
	}
	status := func() review.Status { return club.viewOf("ada", v.Submission.ID).Submission.Status }

	text := club.shown(act("rita", "return", url.Values{"want": {"photo"}, "text": {"typed request"}}), http.StatusBadRequest)
	require.Contains(t, text, "typed request")
	require.Contains(t, text, `href="#f-return-view"`)
	act("rita", "return", url.Values{"want": {"photo"}, "view": {"below"}, "text": {"the underside, please"}}).goesTo()
	require.Equal(t, review.StatusReturned, status())
	require.Contains(t, club.page("ada", path, 200), "the underside, please")

	empty := url.Values{"version": {strconv.Itoa(club.viewOf("ada", v.Submission.ID).Version)}}
	require.Contains(t, club.shown(club.postFiles("ada", path+"/answer", empty), 400), "write an answer")
	answer := url.Values{"version": empty["version"], "text": {"here it is"}, "photos[0].photo": {club.upload("ada")}, "photos[0].view": {"below"}}
	club.postFiles("ada", path+"/answer", answer).goesTo()
	require.Equal(t, review.StatusOpen, status())
	require.Len(t, club.viewOf("ada", v.Submission.ID).Submission.Photos, 2)

	require.Contains(t, club.shown(act("rita", "undetermine", url.Values{}), 400), "must be filled in")
	act("rita", "undetermine", url.Values{"reason": {"no antennae left"}}).goesTo()
	require.Equal(t, review.StatusUndetermined, status())
	left := club.page("ben", path, 200)
	require.Contains(t, left, ">Coleoptera, fam. indet.</h1>")
	require.Contains(t, left, "no antennae left")
	require.Contains(t, club.page("ben", "/submissions", 200), "Coleoptera, fam. indet.")
	club.shown(act("rita", "reopen", url.Values{"reason": {"x"}}), http.StatusForbidden)
	act("cora", "reopen", url.Values{"reason": {"antennae found"}}).goesTo()
	require.Equal(t, review.StatusOpen, status())
	club.shown(act("rita", "settle", url.Values{"reason": {"I know it"}}), http.StatusForbidden)
	act("ada", "withdraw", url.Values{"reason": {"sold"}}).goesTo()
	require.Equal(t, review.StatusWithdrawn, status())
	club.shown(act("ada", "withdraw", url.Values{"reason": {"sold"}}), http.StatusConflict)
}

func TestReplyOnAPage(t *testing.T) {
	club := newAPIClub(t)
	v := club.doubtful()
	path := "/submissions/" + v.Submission.ID
	opinion := url.Values{"version": {strconv.Itoa(v.Version)}, "opinion.kind": {"left-open"}, "opinion.basis": {"photos"}, "sure": {"partly"}}
	club.post("rita", path+"/review", opinion).goesTo()
	c := v.Assessment.Contradictions[0]
	fields := url.Values{"kind": {string(c.Kind)}, "character": {c.Character}, "state": {c.State}, "version": {strconv.Itoa(club.viewOf("rita", v.Submission.ID).Version)}}
	require.Contains(t, club.shown(club.post("rita", path+"/reply", fields), 400), "must be filled in")
	fields.Set("reason", "a malformed one")
	club.post("rita", path+"/reply", fields).goesTo()
	require.Contains(t, club.page("rita", path, 200), "a malformed one")
}

func TestRedetermineOnAPage(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	fields := url.Values{"version": {strconv.Itoa(v.Version)}, "family": {"Elateridae"}, "scientific_name": {"Agriotes"}, "reason": {"went further"}}
	next := club.post("ada", "/submissions/"+v.Submission.ID+"/redetermine", fields).goesTo()
	require.NotEqual(t, "/submissions/"+v.Submission.ID, next)
	require.Contains(t, club.page("ada", next, 200), "Agriotes")
	require.Contains(t, club.page("ada", "/submissions/"+v.Submission.ID, 200), "It was followed by")
}

func TestCorrectLabelOnAPage(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	path := "/specimens/" + v.Specimen.ID
	fields := url.Values{"version": {strconv.Itoa(v.Specimen.Seq)}, "label.catalogue_number": {"AB-1b"}}
	require.Contains(t, club.shown(club.post("cora", path+"/label", fields), 400), `value="AB-1b"`)
	fields.Set("reason", "misread")
	require.Equal(t, path, club.post("cora", path+"/label", fields).goesTo())
	require.Contains(t, club.page("ben", path, 200), "AB-1b")
	require.Contains(t, club.page("ada", "/submissions/"+v.Submission.ID+"/history", 200), "<del>AB-1</del>")
	fields.Set("reason", "again")
	club.shown(club.post("cora", path+"/label", fields), http.StatusConflict)
	club.shown(club.post("ben", path+"/label", fields), http.StatusForbidden)
}

func TestExactPlaceIsWithheldOnPages(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	path := "/submissions/" + v.Submission.ID
	require.Contains(t, club.page("ada", path, 200), "47.123, 15.456")
	require.Contains(t, club.page("cora", path, 200), "A meadow")
	text := club.page("rita", path, 200)
	require.Contains(t, text, "47.1, 15.5")
	require.NotContains(t, text, "47.123")
	require.NotContains(t, text, "A meadow")
}

func TestPolicyOnAPage(t *testing.T) {
	club := newAPIClub(t)
	fields := url.Values{"version": {"0"}, "reviewers": {"3"}, "confidence": {"high"}, "hold_minutes": {"20"}, "holds_at_once": {"4"}, "reason": {"spring meeting"}, "blind_rate": {"0.1"}, "recheck_rate": {"0.05"}, "panel": {"3"},
		"new_family": {"Elateridae"}, "new_experts": {club.people["rita"]}}
	text := club.shown(club.post("cora", "/policy", fields), 400)
	require.Contains(t, text, `value="high"`)
	require.Contains(t, text, "spring meeting")
	fields.Set("confidence", "0,9")
	fields.Set("blind_rate", "0,1")
	fields.Set("recheck_rate", "0,05")
	require.Equal(t, "/policy", club.post("cora", "/policy", fields).goesTo())
	require.Contains(t, club.page("cora", "/policy", 200), `name="confidence" value="0.9"`)
	club.post("cora", "/language", url.Values{"language": {"de"}, "next": {"/"}}).goesTo()
	text = club.page("cora", "/policy", 200)
	require.Contains(t, text, `name="confidence" value="0,9"`)
	require.Contains(t, text, `name="recheck_rate" value="0,05"`)
	club.post("cora", "/language", url.Values{"language": {"en"}, "next": {"/"}}).goesTo()
	text = club.page("ben", "/policy", 200)
	require.Contains(t, text, "3 independent reviewers agree")
	require.Contains(t, text, "for 20 minutes, and 4 submissions at once")
	require.Contains(t, text, "Name of rita")
	club.shown(club.post("cora", "/policy", fields), http.StatusConflict)
	fields.Set("version", "1")
	club.shown(club.post("ben", "/policy", fields), http.StatusForbidden)
	fields.Set("new_family", "Nosuchidae")
	require.Contains(t, club.shown(club.post("cora", "/policy", fields), 400), `href="#f-new-family"`)
}

package web

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/service"
)

// clickStated are characters of a click beetle, common practice, no source.
var clickStated = map[string]string{"prosternal-process": "click-spine", "antenna-form": "serrate", "pronotum-hind-corners": "pointed", "ventrites": "5", "tarsi-counted": "5-5-5"}

// clicks is a club with the real tables and a click beetle of Ada's.
func clicks(t testing.TB) (*apiClub, service.SubmissionView) {
	club := newAPIClubWith(t, diagnosis.All())
	return club, club.call("ada", http.MethodPost, "/api/v1/submissions", beetle(club, "ada", "Elateridae", clickStated)).is(http.StatusCreated).view()
}

// verdicts are fields of a review that gives one kind of verdict on some of the observations.
func verdicts(v service.SubmissionView, kind string, characters ...string) url.Values {
	fields := url.Values{"version": {strconv.Itoa(v.Version)}, "opinion.basis": {"photos"}}
	for _, o := range v.Specimen.Observations {
		for _, c := range characters {
			if o.Character == c {
				fields.Set("verdict["+o.ID+"].kind", kind)
			}
		}
	}
	return fields
}

// Saving a part opens what others said: it is asked first, stores nothing until it is answered, and what was passed over
// has no verdict.
func TestSavingAPartAsksFirst(t *testing.T) {
	club, v := clicks(t)
	path := "/submissions/" + v.Submission.ID
	fields := verdicts(v, "confirm", "antenna-form", "ventrites")
	fields.Set("opinion.kind", "agrees")
	asked := club.shown(club.post("rita", path+"/review", fields), http.StatusOK)
	require.Contains(t, asked, "You have looked at 2 of 5 characters")
	require.Contains(t, asked, `name="sure" value="partly"`)
	require.Equal(t, 2, strings.Count(asked, `value="confirm" checked`), "what was chosen is kept")
	require.Empty(t, club.viewOf("ada", v.Submission.ID).Submission.Verdicts)

	fields.Set("sure", "partly")
	club.post("rita", path+"/review", fields).goesTo()
	got := club.viewOf("ada", v.Submission.ID).Submission
	require.Len(t, got.Verdicts, 2)
	require.Len(t, got.Opinions, 1)

	// What is open to her is not asked about again.
	rest := verdicts(v, "confirm", "tarsi-counted")
	club.post("rita", path+"/review", rest).goesTo()
	require.Len(t, club.viewOf("ada", v.Submission.ID).Submission.Verdicts, 3)
	// The API asks nothing.
	club.call("rolf", "POST", at(v, "/reviews"), map[string]any{"verdicts": []any{map[string]any{"observation": v.Submission.Cites[0], "kind": "confirm"}}}).is(http.StatusOK)
}

// Of all characters there is nothing to ask.
func TestSavingAllOfThemAsksNothing(t *testing.T) {
	club, v := clicks(t)
	fields := verdicts(v, "confirm", "prosternal-process", "antenna-form", "pronotum-hind-corners", "ventrites", "tarsi-counted")
	fields.Set("opinion.kind", "agrees")
	club.post("rita", "/submissions/"+v.Submission.ID+"/review", fields).goesTo()
	require.Len(t, club.viewOf("ada", v.Submission.ID).Submission.Verdicts, 5)
}

// Agreeing with a name that the characters make unlikely, and with one that one's own verdicts speak against, is asked about.
func TestAgreeingAgainstTheCharactersAsksFirst(t *testing.T) {
	club := newAPIClubWith(t, diagnosis.All())
	v := club.call("ada", http.MethodPost, "/api/v1/submissions", beetle(club, "ada", "Carabidae", clickStated)).is(http.StatusCreated).view()
	fields := verdicts(v, "cannot-judge", "prosternal-process", "antenna-form", "pronotum-hind-corners", "ventrites", "tarsi-counted")
	fields.Set("opinion.kind", "agrees")
	asked := club.shown(club.post("rita", "/submissions/"+v.Submission.ID+"/review", fields), http.StatusOK)
	require.Contains(t, asked, `name="sure" value="far"`)
	require.Regexp(t, `Carabidae is very unlikely \([^)]+\); Elateridae is likelier`, asked)

	club, v = clicks(t)
	fields = verdicts(v, "cannot-judge", "antenna-form", "ventrites", "tarsi-counted", "pronotum-hind-corners")
	for _, o := range v.Specimen.Observations {
		if o.Character == "prosternal-process" {
			fields.Set("verdict["+o.ID+"].better", "absent-or-short")
		}
	}
	fields.Set("opinion.kind", "agrees")
	asked = club.shown(club.post("rita", "/submissions/"+v.Submission.ID+"/review", fields), http.StatusOK)
	require.Regexp(t, `Your own verdicts speak against the name that you give: they make Elateridae [\d.]+ times less likely`, asked)
	require.Contains(t, asked, `value="dispute" checked`, "choosing a better state disputes")
	fields.Set("sure", "against")
	club.post("rita", "/submissions/"+v.Submission.ID+"/review", fields).goesTo()

	fields.Set("opinion.kind", "another")
	fields.Set("opinion.family", "Eucnemidae")
	fields.Del("sure")
	club.post("rolf", "/submissions/"+v.Submission.ID+"/review", fields).goesTo()
}

// What a page does not show any more is not sent as if it were meant: a better state beside another verdict, another name
// beside agreement.
func TestWhatIsFoldedAwayIsNotMeant(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	o := v.Submission.Cites[0]
	fields := url.Values{"version": {strconv.Itoa(v.Version)}, "verdict[" + o + "].kind": {"confirm"}, "verdict[" + o + "].better": {"6"},
		"opinion.kind": {"agrees"}, "opinion.family": {"Buprestidae"}, "opinion.basis": {"photos"}}
	club.post("rita", "/submissions/"+v.Submission.ID+"/review", fields).goesTo()
	got := club.viewOf("ada", v.Submission.ID).Submission
	require.Equal(t, review.VerdictConfirm, got.Verdicts[0].Kind)
	require.Empty(t, got.Verdicts[0].Better)
	require.Equal(t, review.OpinionAgrees, got.Opinions[0].Kind)
}

// After saving comes the next one of the queue from which it was opened; what was judged is gone from it until it is answered.
func TestAfterSavingComesTheNext(t *testing.T) {
	club := newAPIClub(t)
	first, second := club.submitted(), club.submitted()
	other := club.form("ada")
	other["label"] = map[string]any{"catalogue_number": "AB-9", "trip": "June trip"}
	third := club.call("ada", http.MethodPost, "/api/v1/submissions", other).is(http.StatusCreated).view()
	text := club.page("rita", "/queue?trip=May+trip", 200)
	require.Contains(t, text, `href="/submissions/`+first.Submission.ID+`/review?trip=May+trip"`)
	bench := club.page("rita", "/submissions/"+first.Submission.ID+"/review?trip=May+trip", 200)
	require.Contains(t, bench, `name="queue" value="trip=May+trip"`)
	require.Contains(t, bench, `rel="prefetch" as="image" href="/photos/`+second.Submission.Photos[0]+`/display"`)
	require.Contains(t, bench, `href="/queue/next?past=`+first.Submission.ID+`&amp;trip=May+trip"`)
	require.Equal(t, "/submissions/"+second.Submission.ID+"/review?trip=May+trip", club.call("rita", "GET", "/queue/next?past="+first.Submission.ID+"&trip=May+trip", nil).goesTo())

	save := func(v service.SubmissionView) string {
		fields := reviewFields(v)
		fields.Set("queue", "trip=May+trip")
		next := club.post("rita", "/submissions/"+v.Submission.ID+"/review", fields).goesTo()
		require.Equal(t, "/queue/next?saved="+v.Submission.ID+"&trip=May+trip", next)
		return club.call("rita", "GET", next, nil).goesTo()
	}
	next := save(first)
	require.Equal(t, "/submissions/"+second.Submission.ID+"/review?saved="+first.Submission.ID+"&trip=May+trip", next)
	require.Contains(t, club.page("rita", next, 200), "Saved.")
	require.NotContains(t, club.page("rita", "/queue", 200), first.Submission.ID)
	next = save(second)
	require.Equal(t, "/queue?saved="+second.Submission.ID+"&trip=May+trip", next)
	text = club.page("rita", next, 200)
	require.Contains(t, text, "Nothing waits here.")
	require.Contains(t, text, "open to you now")
	require.Contains(t, club.page("rita", "/queue", 200), third.Submission.ID)

	club.call("rolf", "POST", at(first, "/reviews"), map[string]any{"verdicts": []any{map[string]any{"observation": first.Submission.Cites[0], "kind": "confirm"}}}).is(http.StatusOK)
	require.NotContains(t, club.page("rita", "/queue", 200), first.Submission.ID, "what others say asks nobody again")
	club.call("ada", "POST", at(first, "/answers"), map[string]any{"text": "counted again"}).is(http.StatusOK)
	require.Contains(t, club.page("rita", "/queue", 200), first.Submission.ID)
}

// Two who look at the same time do not stand in each other's way.
func TestTwoReviewsOfOnePageDoNotConflict(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	path := "/submissions/" + v.Submission.ID + "/review"
	club.post("rita", path, reviewFields(v)).goesTo()
	club.post("rolf", path, reviewFields(v)).goesTo()
	require.Len(t, club.viewOf("ada", v.Submission.ID).Submission.Verdicts, 2)
	club.call("ada", "POST", at(v, "/answers"), map[string]any{"text": "counted again"}).is(http.StatusOK)
	require.Contains(t, club.shown(club.post("cora", path, reviewFields(v)), http.StatusConflict), "has changed since you opened it")
}

// A settlement on authority shows first what it passes over.
func TestAuthorityAsksFirst(t *testing.T) {
	club := newAPIClub(t)
	club.call("cora", http.MethodPut, "/api/v1/policy", policyBody("confidence", 0.95, "experts", map[string][]string{"Elateridae": {club.people["rita"]}})).is(http.StatusOK)
	v := club.doubtful()
	path := "/submissions/" + v.Submission.ID
	fields := url.Values{"version": {strconv.Itoa(v.Version)}, "reason": {"compared with <named> ones"}}
	asked := club.shown(club.post("rita", path+"/settle", fields), http.StatusOK)
	require.Contains(t, asked, "Before it stands on your authority")
	require.Contains(t, asked, "the policy asks for 0.950")
	require.Contains(t, asked, "Never in it")
	require.Contains(t, asked, `name="reason" value="compared with &lt;named&gt; ones"`)
	require.Equal(t, review.StatusOpen, club.viewOf("ada", v.Submission.ID).Submission.Status)
	fields.Set("sure", "authority")
	club.post("rita", path+"/settle", fields).goesTo()
	require.Equal(t, review.StatusConfirmed, club.viewOf("ada", v.Submission.ID).Submission.Status)
}

// The policy that Revidit starts with says characters first, voices second, and can be kept with its form.
func TestFirstPolicyOnAPage(t *testing.T) {
	club := newAPIClub(t)
	text := club.page("ben", "/policy", 200)
	require.Regexp(t, `(?s)Characters first\..*Voices second\..*one who is named for it below, or one with the specimen in hand`, text)
	require.NotContains(t, text, "independent reviewers agree")
	form := club.page("cora", "/policy", 200)
	require.Contains(t, form, `name="one_suffices" value="yes" checked`)
	fields := url.Values{"version": {"0"}, "reviewers": {"0"}, "one_suffices": {"yes"}, "confidence": {"0.9"}, "hold_minutes": {"20"}, "holds_at_once": {"4"},
		"reason": {"spring meeting"}, "blind_rate": {"0"}, "recheck_rate": {"0"}, "panel": {"3"}}
	club.post("cora", "/policy", fields).goesTo()
	fields.Set("version", "1")
	fields.Del("one_suffices")
	require.Contains(t, club.shown(club.post("cora", "/policy", fields), 400), "must be from 1 to 10")
	fields.Set("reviewers", "3")
	fields.Set("one_suffices", "yes")
	club.post("cora", "/policy", fields).goesTo()
	require.Contains(t, club.page("ben", "/policy", 200), "3 independent reviewers agree from photos in place of that one")
}

// With the policy that Revidit starts with, two who agree from photos settle nothing; the specimen in hand does.
func TestInHandSettles(t *testing.T) {
	club := newAPIClub(t)
	club.call("cora", http.MethodPut, "/api/v1/policy", policyBody("reviewers", 0, "one_suffices", true, "confidence", 0.5)).is(http.StatusOK)
	v := club.submitted()
	for _, who := range []string{"rita", "rolf"} {
		club.call(who, "POST", at(v, "/reviews"), agrees).is(http.StatusOK)
	}
	waiting := club.viewOf("rita", v.Submission.ID)
	require.Equal(t, review.StatusOpen, waiting.Submission.Status)
	require.Equal(t, []review.Coded{review.Code("missing-in-hand", "family", "Elateridae")}, waiting.Needs)
	club.call("cora", "POST", at(v, "/reviews"), map[string]any{"opinion": map[string]any{"kind": "agrees", "basis": "specimen"}}).is(http.StatusOK)
	require.Equal(t, review.StatusConfirmed, club.viewOf("ada", v.Submission.ID).Submission.Status)
}

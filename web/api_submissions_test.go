package web

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/judgement"
	"revidit/review/service"
)

type lines struct {
	Items []service.SubmissionLine
	Next  string
}

func TestSubmitAndRead(t *testing.T) {
	club := newAPIClub(t)
	made := club.call("ada", "POST", "/api/v1/submissions", club.form("ada")).is(http.StatusCreated)
	v := made.view()
	require.Equal(t, at(v, ""), made.header.Get("Location"))
	require.Equal(t, review.StatusOpen, v.Submission.Status)
	require.Equal(t, "Elateridae", v.Assessment.Family)
	require.InDelta(t, 47.123, *v.Withheld.Latitude, 1e-9)

	read := club.call("ada", "GET", at(v, ""), nil).is(http.StatusOK)
	require.Equal(t, made.header.Get("ETag"), read.header.Get("ETag"))
	require.Equal(t, v, read.view())
	require.Equal(t, "private, no-cache", read.header.Get("Cache-Control"))
	unchanged := club.call("ada", "GET", at(v, ""), nil, "If-None-Match", `"other", W/`+read.header.Get("ETag")).is(http.StatusNotModified)
	require.Empty(t, unchanged.body)
	require.Equal(t, read.header.Get("ETag"), unchanged.header.Get("ETag"))
	club.call("ada", "GET", at(v, ""), nil, "If-Match", `"other"`).is(http.StatusPreconditionFailed)

	other := club.call("ben", "GET", at(v, ""), nil).is(http.StatusOK)
	require.NotEqual(t, read.header.Get("ETag"), other.header.Get("ETag"), "another person sees another view")
	require.Empty(t, other.view().Withheld.Locality)
	require.InDelta(t, 47.1, *other.view().Withheld.Latitude, 1e-9)
}

// A label that is corrected leaves the events of the submission as they are; its view must not be taken for unchanged, nor
// the evidence.
func TestTagFollowsTheSpecimen(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	tag := club.call("ada", "GET", at(v, ""), nil).header.Get("ETag")
	club.call("ada", "PUT", "/api/v1/specimens/"+v.Specimen.ID+"/label", map[string]any{"label": map[string]any{"catalogue_number": "AB-2"},
		"withheld": map[string]any{}, "reason": "typing error"}).is(http.StatusOK)
	got := club.call("ada", "GET", at(v, ""), nil, "If-None-Match", tag).is(http.StatusOK).view()
	require.Equal(t, v.Submission.Seq, got.Submission.Seq)
	require.Equal(t, "AB-2", got.Specimen.Label.CatalogueNumber)
	club.call("ada", "POST", at(v, "/withdrawal"), reason, "If-Match", tag).is(http.StatusPreconditionFailed)
	club.call("ada", "POST", at(v, "/withdrawal"), reason, "If-Match", versionTag(v.Submission.Seq).String()).is(http.StatusPreconditionFailed)
	club.call("ada", "POST", at(v, "/withdrawal"), reason, "If-Match", `"`+"nonsense"+`", `+evidenceTag(got.Version).String()).is(http.StatusOK)
}

func TestFieldsOfABadForm(t *testing.T) {
	club := newAPIClub(t)
	form := club.form("ada")
	form["family"] = "Nonidae"
	form["label"] = map[string]any{"sex": "male", "collected_from": "yesterday"}
	form["observations"] = []any{map[string]any{"character": "ventrites", "state": "5"}, map[string]any{"character": "antenna-form", "state": "purple"}}
	// What the service finds wrong.
	require.ElementsMatch(t, []string{"label.collected_from", "label.catalogue_number", "family", "observations[1].state"},
		club.call("ada", "POST", "/api/v1/submissions", form).is(http.StatusBadRequest).fields())
	// What is wrong with the form itself, named in the same way.
	form["observations"] = []any{map[string]any{"character": "ventrites", "state": 5}, map[string]any{"character": "antenna-form"},
		map[string]any{"character": strings.Repeat("x", 61), "state": "y", "region": map[string]any{"x": 2, "y": 0, "w": 1, "h": 1}}}
	form["qualifier"] = "maybe"
	require.ElementsMatch(t, []string{"observations[0].state", "observations[1].state", "observations[2].character", "observations[2].region.x", "qualifier"},
		club.call("ada", "POST", "/api/v1/submissions", form).is(http.StatusBadRequest).fields())
	require.Equal(t, []string{"photos[0].photo"}, club.call("ben", "POST", "/api/v1/submissions", club.form("ada")).is(http.StatusBadRequest).fields())
	require.Empty(t, decoded[lines](club.call("ada", "GET", "/api/v1/submissions?owner=me", nil)).Items, "nothing was stored")
}

func TestIdempotencyKey(t *testing.T) {
	club := newAPIClub(t)
	form := club.form("ada")
	first := club.call("ada", "POST", "/api/v1/submissions", form, "Idempotency-Key", "k1").is(http.StatusCreated)
	again := club.call("ada", "POST", "/api/v1/submissions", form, "Idempotency-Key", "k1").is(http.StatusCreated)
	require.Equal(t, first.header.Get("Location"), again.header.Get("Location"))
	require.Equal(t, first.view().Submission, again.view().Submission)
	form["remarks"] = "another"
	club.call("ada", "POST", "/api/v1/submissions", form, "Idempotency-Key", "k1").is(http.StatusConflict)
	require.NotEqual(t, first.header.Get("Location"), club.call("ben", "POST", "/api/v1/submissions", club.form("ben"),
		"Idempotency-Key", "k1").is(http.StatusCreated).header.Get("Location"), "keys are each person's own")
	for _, bad := range []string{strings.Repeat("k", 121), "\xff"} {
		require.Equal(t, []string{"Idempotency-Key"}, club.call("ada", "POST", "/api/v1/submissions", form, "Idempotency-Key", bad).is(http.StatusBadRequest).fields())
	}
	require.Len(t, decoded[lines](club.call("ada", "GET", "/api/v1/submissions?owner=me", nil)).Items, 1)
}

func TestDraftToSubmission(t *testing.T) {
	club := newAPIClub(t)
	empty := club.call("ada", "POST", "/api/v1/submissions", map[string]any{"draft": true}).is(http.StatusCreated).view()
	require.ElementsMatch(t, []string{"label.catalogue_number", "family", "photos", "observations"},
		club.call("ada", "POST", at(empty, "/submit"), nil).is(http.StatusBadRequest).fields())

	form := club.form("ada")
	revised := club.call("ada", "PUT", at(empty, ""), form, "If-Match", evidenceTag(empty.Version).String()).is(http.StatusOK)
	require.Equal(t, review.StatusDraft, revised.view().Submission.Status)
	club.call("ada", "PUT", at(empty, ""), form, "If-Match", evidenceTag(empty.Version).String()).is(http.StatusPreconditionFailed)
	open := club.call("ada", "POST", at(empty, "/submit"), nil, "If-Match", revised.header.Get("ETag")).is(http.StatusOK).view()
	require.Equal(t, review.StatusOpen, open.Submission.Status)
	club.call("ada", "POST", at(empty, "/submit"), nil).is(http.StatusConflict)
	club.call("ada", "PUT", at(empty, ""), form).is(http.StatusConflict)

	second := club.draft()
	require.Equal(t, review.StatusOpen, club.call("ada", "PUT", at(second, "?submit=true"), club.form("ada")).is(http.StatusOK).view().Submission.Status)
}

func TestReviewSettles(t *testing.T) {
	club := newAPIClub(t)
	club.policy(map[string][]string{})
	v := club.submitted()
	observation := v.Submission.Cites[0]
	require.True(t, club.call("rita", "GET", at(v, ""), nil).view().Sealed)
	require.ElementsMatch(t, []string{"verdicts[0].better", "verdicts[1].observation", "opinion.family"},
		club.call("rita", "POST", at(v, "/reviews"), map[string]any{
			"verdicts": []any{map[string]any{"observation": observation, "kind": "confirm", "better": "6"}, map[string]any{"observation": "none", "kind": "confirm"}},
			"opinion":  map[string]any{"kind": "agrees", "family": "Buprestidae", "basis": "photos"}}).is(http.StatusBadRequest).fields())
	require.Equal(t, []string{"verdicts"}, club.call("rita", "POST", at(v, "/reviews"), map[string]any{}).is(http.StatusBadRequest).fields())

	settled := club.call("rita", "POST", at(v, "/reviews"), map[string]any{
		"verdicts": []any{map[string]any{"observation": observation, "kind": "confirm"}},
		"opinion":  map[string]any{"kind": "agrees", "basis": "photos"}}).is(http.StatusOK).view()
	require.Equal(t, review.StatusConfirmed, settled.Submission.Status)
	require.Equal(t, []string{club.people["rita"]}, settled.Submission.Settlement.Agreeing)
	club.call("rolf", "POST", at(v, "/reviews"), agrees).is(http.StatusConflict)

	reopened := club.call("cora", "POST", at(v, "/reopening"), reason).is(http.StatusOK).view()
	require.Equal(t, review.StatusOpen, reopened.Submission.Status)

	history := decoded[struct {
		Entries []struct{ Kind, Actor string }
	}](club.call("ada", "GET", at(v, "/events"), nil).is(http.StatusOK))
	kinds := []string{}
	for _, e := range history.Entries {
		kinds = append(kinds, e.Kind)
	}
	require.Subset(t, kinds, []string{"specimen-registered", "submitted", "verdicts-given", "opinion-given", "confirmed", "reopened"})
}

func TestHold(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	held := club.call("rita", "POST", at(v, "/hold"), nil).is(http.StatusOK).view()
	require.Equal(t, club.people["rita"], held.Submission.Hold.By)
	for _, path := range []string{"/hold", "/reviews", "/returns", "/undetermination"} {
		body := map[string]any{"/reviews": agrees, "/returns": map[string]any{"want": "specimen", "text": "send it"}, "/undetermination": reason}[path]
		club.call("rolf", "POST", at(v, path), body).is(http.StatusConflict)
	}
	club.call("rolf", "DELETE", at(v, "/hold"), nil).is(http.StatusConflict)
	require.Nil(t, club.call("rita", "DELETE", at(v, "/hold"), nil).is(http.StatusOK).view().Submission.Hold)
	club.call("rita", "POST", at(v, "/hold"), nil).is(http.StatusOK)
	require.Contains(t, club.page("cora", "/submissions/"+v.Submission.ID, 200), "End it for them")
	require.NotContains(t, club.page("rolf", "/submissions/"+v.Submission.ID, 200), "End it for them")
	require.Nil(t, club.call("cora", "DELETE", at(v, "/hold"), nil).is(http.StatusOK).view().Submission.Hold, "a curator ends anybody's")
	club.call("cora", "DELETE", at(v, "/hold"), nil).is(http.StatusConflict)
	club.call("rolf", "POST", at(v, "/hold"), nil).is(http.StatusOK)
	club.call("cora", "PUT", "/api/v1/policy", policyBody("holds_at_once", 1)).is(http.StatusOK)
	full := club.call("rolf", "POST", at(club.submitted(), "/hold"), nil).is(http.StatusConflict).problem()
	require.Contains(t, full.Detail, "hold 1 at once: AB-1 (until ", "it names what is held")
}

func TestReturnAndAnswer(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	require.Equal(t, []string{"view"}, club.call("rita", "POST", at(v, "/returns"), map[string]any{"want": "photo", "view": "from-afar", "text": "please"}).is(http.StatusBadRequest).fields())
	club.call("rita", "POST", at(v, "/returns"), map[string]any{"want": "photo", "view": "antenna", "text": "please"}).is(http.StatusOK)
	club.call("rita", "POST", at(v, "/reviews"), agrees).is(http.StatusConflict)
	require.Equal(t, []string{"text"}, club.call("ada", "POST", at(v, "/answers"), map[string]any{}).is(http.StatusBadRequest).fields())
	photo := club.upload("ada")
	answered := club.call("ada", "POST", at(v, "/answers"), map[string]any{"photos": []any{map[string]any{"photo": photo, "view": "antenna"}},
		"observations": []any{map[string]any{"character": "antenna-form", "state": "serrate", "photo": photo}}}).is(http.StatusOK).view()
	require.Equal(t, review.StatusOpen, answered.Submission.Status)
	require.Contains(t, answered.Submission.Photos, photo)
	require.Len(t, answered.Submission.Cites, 2)
}

func TestReplyToAContradiction(t *testing.T) {
	club := newAPIClub(t)
	v := club.doubtful()
	c := v.Assessment.Contradictions[0]
	require.Equal(t, judgement.Excluded, c.Kind)
	reply := map[string]any{"kind": c.Kind, "character": c.Character, "state": c.State, "reason": "the last plate has broken in two"}
	replied := club.call("rita", "POST", at(v, "/replies"), reply).is(http.StatusOK)
	// What reviewers say stays sealed from her until she has reviewed; the owner sees it at once.
	require.Equal(t, http.StatusOK, replied.status)
	require.Len(t, club.call("ada", "GET", at(v, ""), nil).view().Submission.Replies, 1)
	reply["state"] = "5"
	require.Equal(t, []string{"character"}, club.call("rita", "POST", at(v, "/replies"), reply).is(http.StatusBadRequest).fields())
}

func TestSettleOnAuthority(t *testing.T) {
	club := newAPIClub(t)
	club.policy(map[string][]string{"Elateridae": {club.people["rita"]}})
	v := club.submitted()
	club.call("rolf", "POST", at(v, "/settlement"), reason).is(http.StatusForbidden)
	require.Equal(t, []string{"reason"}, club.call("rita", "POST", at(v, "/settlement"), map[string]any{}).is(http.StatusBadRequest).fields())
	settled := club.call("rita", "POST", at(v, "/settlement"), reason).is(http.StatusOK).view()
	require.True(t, settled.Submission.Settlement.OnAuthority)
}

func TestRedetermine(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	require.Equal(t, []string{"family"}, club.call("rita", "POST", at(v, "/redeterminations"), map[string]any{"family": "Elateridae", "reason": "same"}).is(http.StatusBadRequest).fields())
	made := club.call("rita", "POST", at(v, "/redeterminations"), map[string]any{"family": "Buprestidae", "reason": "plates"},
		"If-Match", versionTag(v.Submission.Seq).String()).is(http.StatusCreated)
	next := made.view()
	require.Equal(t, at(next, ""), made.header.Get("Location"))
	require.Equal(t, v.Submission.ID, next.Submission.Follows)
	former := club.call("ada", "GET", at(v, ""), nil).view()
	require.Equal(t, review.StatusRedetermined, former.Submission.Status)
	require.Equal(t, next.Submission.ID, former.Submission.FollowedBy)
	club.call("rita", "POST", at(v, "/redeterminations"), map[string]any{"family": "Buprestidae", "reason": "again"}).is(http.StatusConflict)
}

func TestUndetermineAndWithdraw(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	require.Equal(t, review.StatusUndetermined, club.call("rita", "POST", at(v, "/undetermination"), reason).is(http.StatusOK).view().Submission.Status)
	club.call("ada", "POST", at(v, "/withdrawal"), reason).is(http.StatusConflict)
	v = club.draft()
	require.Equal(t, review.StatusWithdrawn, club.call("ada", "POST", at(v, "/withdrawal"), reason).is(http.StatusOK).view().Submission.Status)
}

func TestFindAndQueue(t *testing.T) {
	club := newAPIClub(t)
	first, second := club.submitted(), club.doubtful()
	draft := club.draft()
	all := decoded[lines](club.call("ben", "GET", "/api/v1/submissions", nil).is(http.StatusOK))
	require.Len(t, all.Items, 2)
	require.Empty(t, all.Next)
	require.Equal(t, second.Submission.ID, all.Items[0].ID, "the latest changed first")
	page := decoded[lines](club.call("ben", "GET", "/api/v1/submissions?size=1", nil))
	require.Len(t, page.Items, 1)
	require.NotEmpty(t, page.Next)
	rest := decoded[lines](club.call("ben", "GET", "/api/v1/submissions?size=1&cursor="+page.Next, nil))
	require.Equal(t, first.Submission.ID, rest.Items[0].ID)
	drafts := decoded[lines](club.call("ada", "GET", "/api/v1/submissions?status=draft", nil))
	require.Equal(t, draft.Submission.ID, drafts.Items[0].ID)
	none := club.call("ben", "GET", "/api/v1/submissions?status=draft", nil).is(http.StatusOK)
	require.JSONEq(t, `{"items":[],"next":""}`, string(none.body))
	doubtful := decoded[lines](club.call("ada", "GET", "/api/v1/submissions?doubtful=true", nil))
	require.Len(t, doubtful.Items, 1)

	queue := decoded[struct{ Items []service.QueueLine }](club.call("rita", "GET", "/api/v1/queue?family=Elateridae&drawer=Drawer+7&trip=May+trip", nil).is(http.StatusOK))
	require.Len(t, queue.Items, 2)
	require.NotEmpty(t, queue.Items[0].Reason)
	require.Empty(t, decoded[lines](club.call("rita", "GET", "/api/v1/queue?drawer=Drawer+8", nil)).Items)

	counts := decoded[map[string]int](club.call("ada", "GET", "/api/v1/counts", nil))
	require.Equal(t, map[string]int{"draft": 1, "open": 2, "returned": 0, "confirmed": 0, "redetermined": 0, "undetermined": 0, "withdrawn": 0}, counts)
}

// raced lets Rita and Rolf save at once, and returns their statuses, the lower first.
func (c *apiClub) raced(v service.SubmissionView, headers ...string) (least, most int) {
	c.t.Helper()
	statuses := make(chan int, 2)
	start := make(chan struct{})
	for _, who := range []string{"rita", "rolf"} {
		go func() {
			<-start
			statuses <- c.call(who, "POST", at(v, "/reviews"), agrees, headers...).status
		}()
	}
	close(start)
	one, two := <-statuses, <-statuses
	return min(one, two), max(one, two)
}

// The first opinion settles the submission; whoever comes second, at the same moment or after, hears of a conflict.
func TestRaceToSettle(t *testing.T) {
	club := newAPIClub(t)
	club.policy(map[string][]string{})
	for range 20 {
		v := club.submitted()
		least, most := club.raced(v)
		require.Equal(t, [2]int{http.StatusOK, http.StatusConflict}, [2]int{least, most})
		after := club.call("ada", "GET", at(v, ""), nil).view().Submission
		require.Equal(t, review.StatusConfirmed, after.Status)
		require.Len(t, after.Opinions, 1)
	}
}

// Both decided on the same version of the evidence: what the other says makes nothing stale, however the version is named.
func TestRaceOnOneVersion(t *testing.T) {
	club := newAPIClub(t)
	for i := range 20 {
		v := club.submitted()
		seen := club.call("rita", "GET", at(v, ""), nil)
		tag := []string{seen.header.Get("ETag"), versionTag(v.Submission.Seq).String(), evidenceTag(v.Version).String()}[i%3]
		least, most := club.raced(v, "If-Match", tag)
		require.Equal(t, [2]int{http.StatusOK, http.StatusOK}, [2]int{least, most})
		require.Len(t, club.call("ada", "GET", at(v, ""), nil).view().Submission.Opinions, 2)
	}
}

// What changes the evidence makes every name of a version stale, and no name is taken for another one.
func TestEvidenceMakesStale(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	seen := club.call("rita", "GET", at(v, ""), nil)
	club.call("rolf", "POST", at(v, "/reviews"), agrees).is(http.StatusOK)
	after := club.call("rita", "GET", at(v, ""), nil)
	require.Equal(t, seen.view().Version, after.view().Version)
	club.call("rita", "GET", at(v, ""), nil, "If-None-Match", seen.header.Get("ETag")).is(http.StatusOK) // a reader is told of it
	club.call("ada", "POST", at(v, "/answers"), map[string]any{"observations": []any{map[string]any{"character": "ventrites", "state": "5"}},
		"withdraw": ownOf(v, "ventrites")}).is(http.StatusOK)
	for _, tag := range []string{seen.header.Get("ETag"), after.header.Get("ETag"), versionTag(v.Submission.Seq).String(), versionTag(after.view().Submission.Seq).String(),
		evidenceTag(v.Version).String(), versionTag(v.Version + 1000).String(), "W/" + evidenceTag(v.Version).String()} {
		club.call("rita", "POST", at(v, "/reviews"), agrees, "If-Match", tag).is(http.StatusPreconditionFailed)
	}
	now := club.call("rita", "GET", at(v, ""), nil)
	require.NotEqual(t, seen.view().Version, now.view().Version)
	club.call("rita", "POST", at(v, "/reviews"), agrees, "If-Match", now.header.Get("ETag")).is(http.StatusOK)
}

// ownOf are the observations of a character.
func ownOf(v service.SubmissionView, character string) []string {
	ids := []string{}
	for _, o := range v.Specimen.Observations {
		if o.Character == character {
			ids = append(ids, o.ID)
		}
	}
	return ids
}

// Nobody judges what is their own, on no submission of the specimen.
func TestNobodyJudgesTheirOwn(t *testing.T) {
	club := newAPIClub(t)
	first := club.call("rita", "POST", "/api/v1/submissions", club.form("rita")).is(http.StatusCreated).view()
	v := club.call("cora", "POST", at(first, "/redeterminations"), map[string]any{"family": "Elateridae", "scientific_name": "Agriotes",
		"reason": "went further"}).is(http.StatusCreated).view()
	verdict := map[string]any{"verdicts": []any{map[string]any{"observation": v.Submission.Cites[0], "kind": "confirm"}}}
	require.Equal(t, []string{"verdicts[0].observation"}, club.call("rita", "POST", at(v, "/reviews"), verdict).is(http.StatusBadRequest).fields())
	require.Equal(t, []string{"opinion.kind"}, club.call("rita", "POST", at(v, "/reviews"), agrees).is(http.StatusBadRequest).fields())
	seen := club.call("rita", "GET", at(v, ""), nil).view()
	require.True(t, seen.Own.Everything)
	require.Empty(t, decoded[lines](club.call("rita", "GET", "/api/v1/queue", nil)).Items)

	path := "/submissions/" + v.Submission.ID
	text := club.page("rita", path, 200)
	require.Contains(t, text, "Nothing here is yours to judge")
	require.NotContains(t, text, path+"/review\"")
	club.page("rita", path+"/review", http.StatusForbidden)
	require.Contains(t, club.page("rolf", path, 200), path+"/review\"")

	club.call("cora", "POST", at(v, "/answers"), map[string]any{"observations": []any{map[string]any{"character": "ventrites", "state": "5"}}}).is(http.StatusOK)
	bench := club.page("rita", path+"/review", 200)
	require.Contains(t, bench, "You observed this yourself")
	require.Contains(t, bench, "Nobody gives an opinion on a name of their own")
	require.NotContains(t, bench, `name="opinion.kind"`)
	require.Contains(t, club.page("rita", "/queue", 200), "the name is your own")
	require.Contains(t, club.page("rolf", path+"/review", 200), `name="opinion.kind"`)
}

// A name written by hand is nobody's who has an account.
func TestNameWithoutAccountIsMarked(t *testing.T) {
	club := newAPIClub(t)
	form := club.form("ada")
	form["determiner_name"] = "Name of rolf"
	v := club.call("ada", "POST", "/api/v1/submissions", form).is(http.StatusCreated).view()
	require.Equal(t, "Name of rolf (no account)", v.Names[v.Submission.Determination.Determiner])
	path := "/submissions/" + v.Submission.ID
	for _, page := range []string{path, path + "/review", "/specimens/" + v.Specimen.ID, path + "/history"} {
		require.Contains(t, club.page("rolf", page, 200), "Name of rolf (no account)", page)
	}
}

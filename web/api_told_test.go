package web

import (
	"encoding/json"
	"net/http"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/judgement"
	"revidit/review/service"
)

// What is stored of an assessment is codes; the API fills in the words in the language of the caller wherever one stands.
func TestTheAPITellsAssessmentsInTheLanguageOfTheCaller(t *testing.T) {
	club := newAPIClub(t)
	v := club.doubtful()
	requireTold := func(a judgement.Assessment, language, reason, resolve, caveat string) {
		t.Helper()
		require.Contains(t, a.Contradictions[0].Reason, reason, language)
		require.Contains(t, a.Contradictions[0].Resolve, resolve, language)
		require.NotEmpty(t, a.Caveats, language)
		require.Len(t, a.Warnings, len(a.Caveats), language)
		require.Contains(t, a.Warnings[0], caveat, language)
	}
	dossier := "/api/v1/specimens/" + v.Specimen.ID + "/dossier"
	for language, want := range map[string][3]string{
		"en":    {"occurs never in Elateridae; there it is ", "Look again at “", "Only one character is stated, "},
		"de-CH": {"kommt bei Elateridae nie vor; dort ist es ", "Sehen Sie sich „", "Nur ein Merkmal ist angegeben, "},
	} {
		ask := func(path string) *reply {
			return club.call("ada", http.MethodGet, path, nil, "Accept-Language", language).is(http.StatusOK)
		}
		view := ask(at(v, "")).view()
		then := decoded[service.Then](ask(at(v, "/as-of")))
		difference := decoded[service.Difference](ask(at(v, "/difference?from="+strconv.FormatInt(then.Position, 10))))
		told := club.call("ada", http.MethodPost, "/api/v1/assessments", map[string]any{"family": "Elateridae", "observations": map[string]any{"ventrites": 9}},
			"Accept-Language", language).is(http.StatusOK)
		for _, a := range []judgement.Assessment{view.Assessment, *view.Submission.Assessment, then.View.Assessment, difference.To.View.Assessment,
			decoded[struct{ Submissions []service.SubmissionView }](ask(dossier)).Submissions[0].Assessment, decoded[judgement.Assessment](told)} {
			requireTold(a, language, want[0], want[1], want[2])
		}
	}
	one := club.call("ada", http.MethodGet, at(v, ""), nil, "Accept-Language", "en")
	other := club.call("ada", http.MethodGet, at(v, ""), nil, "Accept-Language", "de")
	require.NotEqual(t, one.header.Get("ETag"), other.header.Get("ETag"), "a cache keeps them apart")
	club.call("ada", http.MethodGet, at(v, ""), nil, "Accept-Language", "de", "If-None-Match", other.header.Get("ETag")).is(http.StatusNotModified)
}

func TestStoredAssessmentsHoldNoWords(t *testing.T) {
	club := newAPIClub(t)
	v := club.doubtful()
	stored, err := club.server.Service.View(t.Context(), club.actor("ada"), v.Submission.ID)
	require.NoError(t, err)
	require.NotEmpty(t, stored.Submission.Assessment.Contradictions)
	text, err := json.Marshal(&review.Assessed{Assessment: *stored.Submission.Assessment})
	require.NoError(t, err)
	for _, field := range []string{`"reason"`, `"resolve"`, `"warnings"`, `"expect"`, `"name"`, `"silence"`, `"remark"`} {
		require.NotContains(t, string(text), field)
	}
	require.Contains(t, string(text), `"caveats":[{"kind":"one-stated","characters":["ventrites"]}`)
	rows := club.call("ada", http.MethodGet, "/specimens/"+v.Specimen.ID+"/dossier?table=contradictions&as=csv", nil, "Accept-Language", "de").is(http.StatusOK)
	require.Contains(t, string(rows.body), "kommt bei Elateridae nie vor")
}

func TestTheFirstPolicyIsSaidInTheLanguageOfTheCaller(t *testing.T) {
	club := newAPIClub(t)
	for language, want := range map[string]string{"en": "The policy that Revidit starts with.", "de": "Die Regeln, mit denen Revidit beginnt."} {
		require.Equal(t, want, decoded[review.Policy](club.call("ada", http.MethodGet, "/api/v1/policy", nil, "Accept-Language", language).is(http.StatusOK)).Reason)
	}
}

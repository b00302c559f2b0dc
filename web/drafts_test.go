package web

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/service"
)

// What a PUT leaves out stays; what it gives, an empty label too, takes the place of what was there.
func TestPutChangesWhatItGives(t *testing.T) {
	club := newAPIClub(t)
	draft := club.draft()
	put := func(body map[string]any) service.SubmissionView {
		return club.call("ada", "PUT", at(draft, ""), body).is(http.StatusOK).view()
	}
	require.Equal(t, draft, put(map[string]any{}))
	after := put(map[string]any{"remarks": "worn"})
	require.Equal(t, "worn", after.Submission.Remarks)
	require.Equal(t, draft.Specimen, after.Specimen)
	require.Equal(t, draft.Withheld, after.Withheld)
	require.Equal(t, draft.Submission.Determination, after.Submission.Determination)
	after = put(map[string]any{"label": map[string]any{}})
	require.Equal(t, review.Label{}, after.Specimen.Label)
	require.Equal(t, draft.Withheld, after.Withheld)
	after = put(map[string]any{"withheld": map[string]any{}, "observations": []any{}, "remarks": "", "family": ""})
	require.Equal(t, review.Withheld{}, after.Withheld)
	require.Empty(t, after.Submission.Cites)
	require.Empty(t, after.Submission.Remarks)
	require.Empty(t, after.Submission.Determination.Family)
	require.Equal(t, draft.Submission.Photos, after.Submission.Photos)
	require.Equal(t, []string{"group"}, club.call("ada", "PUT", at(draft, ""), map[string]any{"group": "another"}).is(http.StatusBadRequest).fields())
}

// Whatever others draft on a specimen, its page neither shows it nor grows by it.
func TestDraftsOfOthersAreOnNoPage(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	paths := []string{"/specimens/" + v.Specimen.ID, "/submissions/" + v.Submission.ID, "/submissions/" + v.Submission.ID + "/history"}
	asked := func(who string) (all string) {
		for _, path := range paths {
			all += club.page(who, path, http.StatusOK)
		}
		for _, path := range []string{"/specimens/" + v.Specimen.ID, "/submissions/" + v.Submission.ID, "/submissions/" + v.Submission.ID + "/events"} {
			all += string(club.call(who, "GET", apiPrefix+path, nil).is(http.StatusOK).body)
		}
		return keyField.ReplaceAllString(all, "")
	}
	for _, who := range []string{"rita", "rolf", "cora"} {
		asked(who) // from then on it is told that they have opened it
	}
	before := map[string]string{}
	for _, who := range []string{"ada", "ben", "rita", "cora"} {
		before[who] = asked(who)
	}
	tag := club.call("rita", "GET", at(v, ""), nil).is(http.StatusOK).header.Get("ETag")
	for i := range 3 {
		form := club.form("rolf")
		form["specimen"], form["draft"], form["remarks"] = v.Specimen.ID, true, strings.Repeat("x", 1000)
		draft := club.call("rolf", "POST", "/api/v1/submissions", form).is(http.StatusCreated).view()
		for range 5 {
			form := map[string]any{"observations": []any{map[string]any{"character": "ventrites", "state": "6"}, map[string]any{"character": "antenna-form", "state": "serrate"}}}
			club.call("rolf", "PUT", at(draft, ""), form).is(http.StatusOK)
			club.call("rolf", "PUT", at(draft, ""), map[string]any{"observations": []any{}}).is(http.StatusOK)
		}
		require.Equal(t, 404, club.call("ada", "GET", apiPrefix+"/photos/"+draft.Submission.Photos[0]+"/thumb", nil).status, i)
	}
	for who, was := range before {
		require.True(t, was == asked(who), "%s sees another page than before", who)
	}
	require.Equal(t, tag, club.call("rita", "GET", at(v, ""), nil).is(http.StatusOK).header.Get("ETag"))
	club.call("rita", "POST", at(v, "/reviews"), agrees, "If-Match", tag).is(http.StatusOK)
	form := map[string]any{"specimen": v.Specimen.ID, "draft": true}
	refused := club.call("rolf", "POST", "/api/v1/submissions", form).is(http.StatusConflict)
	require.Contains(t, refused.problem().Detail, "3 drafts of this specimen")
	form = map[string]any{"specimen": v.Specimen.ID, "draft": true, "photos": []any{map[string]any{"photo": v.Submission.Photos[0], "view": "antenna"}}}
	require.Equal(t, []string{"photos[0].view"}, club.call("ben", "POST", "/api/v1/submissions", form).is(http.StatusBadRequest).fields())
}

// withLabelView are the small tables with the view of the labels.
func withLabelView(t testing.TB) []*diagnosis.Tables {
	const below = "  - {id: below, label: From below, part: entireOrganism, orientation: ventral}\n"
	return []*diagnosis.Tables{loaded(t, edited(t, smallTables(), "group.yaml", below, below+"  - {id: label, label: Labels, part: unspecifiedPart, orientation: unspecifiedOrientation}\n"))}
}

// A photo of the labels tells what is withheld of their text: it is nowhere for whom the text is withheld.
func TestPhotosOfLabelsAreWithheld(t *testing.T) {
	club := newAPIClubWith(t, withLabelView(t))
	form := club.form("ada")
	label := club.upload("ada")
	below := form["photos"].([]any)[0].(map[string]any)["photo"].(string)
	form["photos"] = []any{map[string]any{"photo": label, "view": "label"}, map[string]any{"photo": below, "view": "below"}}
	form["observations"] = []any{map[string]any{"character": "ventrites", "state": "5", "photo": label, "region": map[string]any{"x": 0.1, "y": 0.1, "w": 0.5, "h": 0.5}}}
	v := club.call("ada", "POST", "/api/v1/submissions", form).is(http.StatusCreated).view()
	form = club.form("ada")
	only := form["photos"].([]any)[0].(map[string]any)
	only["view"] = "label"
	alone := club.call("ada", "POST", "/api/v1/submissions", form).is(http.StatusCreated).view()

	paths := func() (all []string) {
		for _, of := range []service.SubmissionView{v, alone} {
			id, specimen := of.Submission.ID, of.Specimen.ID
			all = append(all, "/submissions/"+id, "/submissions/"+id+"/history", "/specimens/"+specimen, apiPrefix+"/submissions/"+id,
				apiPrefix+"/specimens/"+specimen)
		}
		return append(all, "/submissions", "/submissions?q=AB-1", "/queue", apiPrefix+"/submissions", apiPrefix+"/queue", "/")
	}()
	names := []string{label, only["photo"].(string)}
	for who, sees := range map[string]bool{"ada": true, "cora": true, "ben": false, "rita": false} {
		seen := map[string]bool{}
		for _, path := range paths {
			text := string(club.call(who, "GET", path, nil).body)
			for _, name := range names {
				seen[name] = seen[name] || strings.Contains(text, name)
				if !sees {
					require.NotContains(t, text, name, "%s %s", who, path)
				}
			}
		}
		for _, name := range names {
			require.Equal(t, sees, seen[name], "%s sees %s", who, name)
			for _, size := range []string{"original", "display", "thumb"} {
				want := map[bool]int{true: http.StatusOK, false: http.StatusNotFound}[sees]
				require.Equal(t, want, club.call(who, "GET", apiPrefix+"/photos/"+name+"/"+size, nil).status, "%s %s", who, size)
				require.Equal(t, want, club.call(who, "GET", "/photos/"+name+"/"+size, nil).status, "%s %s", who, size)
			}
		}
		require.Equal(t, http.StatusOK, club.call(who, "GET", "/photos/"+below+"/thumb", nil).status, "other photos are for all")
	}
	lines := decoded[lines](club.call("ben", "GET", "/api/v1/submissions", nil)).Items
	require.Empty(t, lines[0].Photo)
	require.Equal(t, below, lines[1].Photo, "a list shows another photo where there is one")
}

// Reviewers see how high, and in which district; members the rounded place alone. Trip and habitat can be withheld.
func TestDistrictAndElevationAreForReviewers(t *testing.T) {
	club := newAPIClub(t)
	form := club.form("ada")
	form["withheld"] = map[string]any{"locality": "A meadow", "latitude": 47.123, "longitude": 15.456, "district": "Leoben", "elevation_m": 812,
		"trip": "Secret valley", "habitat": "below the castle", "collector": "Old Hand"}
	v := club.call("ada", "POST", "/api/v1/submissions", form).is(http.StatusCreated).view()
	whole := v.Withheld
	height, north, east := 812.0, 47.1, 15.5
	for who, want := range map[string]review.Withheld{"ada": whole, "cora": whole, "ben": {Latitude: &north, Longitude: &east},
		"rita": {Latitude: &north, Longitude: &east, ElevationM: &height, District: "Leoben"}} {
		got := club.call(who, "GET", at(v, ""), nil).is(http.StatusOK).view()
		require.Equal(t, want, got.Withheld, who)
		require.Equal(t, who == "ben" || who == "rita", got.Coarse)
		text := club.page(who, "/specimens/"+v.Specimen.ID, http.StatusOK)
		require.Equal(t, who != "ben", strings.Contains(text, "Leoben"), who)
		require.Equal(t, who == "ada" || who == "cora", strings.Contains(text, "Secret valley"), who)
	}
}

// What was said after the others' verdicts were shown is told as such, on the page and in the history.
func TestPagesTellWhatWasGivenAfterOpening(t *testing.T) {
	club := newAPIClub(t)
	form := club.form("ada")
	form["observations"] = []any{map[string]any{"character": "ventrites", "state": "5"}, map[string]any{"character": "antenna-form", "state": "filiform"}}
	v := club.call("ada", "POST", "/api/v1/submissions", form).is(http.StatusCreated).view()
	say := func(who string, observation int, kind string) service.SubmissionView {
		verdict := map[string]any{"observation": v.Submission.Cites[observation], "kind": kind}
		if kind == "dispute" {
			verdict["better"] = "6"
		}
		return club.call(who, "POST", at(v, "/reviews"), map[string]any{"verdicts": []any{verdict}}).is(http.StatusOK).view()
	}
	say("rolf", 0, "dispute")
	opened := say("rita", 1, "cannot-judge")
	require.Len(t, opened.Submission.Verdicts, 2, "the answer shows what Rolf said")
	copied := say("rita", 0, "dispute")
	require.True(t, copied.Submission.Verdicts[2].AfterOpening)
	require.Contains(t, club.page("ada", "/submissions/"+v.Submission.ID, http.StatusOK), "Given after seeing what others said")
	history := club.page("ada", "/submissions/"+v.Submission.ID+"/history", http.StatusOK)
	require.Contains(t, history, "given after seeing what others said")
	require.Contains(t, history, "was shown what others had said")
	require.NotContains(t, club.page("cora", "/submissions/"+v.Submission.ID+"/history", http.StatusOK), "what others had said")
}

package web

import (
	"archive/zip"
	"bytes"
	"io"
	"io/fs"
	"net/http"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/review/service"
)

const smallGroup = "/api/v1/groups/small-test-group"

// platesEdit says that click beetles may have seven plates, and more often than now.
var platesEdit = map[string]any{"family": "Elateridae", "character": "ventrites", "states": []any{
	map[string]any{"state": "5", "word": "usually"}, map[string]any{"state": "6-7", "word": "often"}, map[string]any{"state": "rest", "word": "never"}}}

type groupsBody struct{ Items []GroupView }

type releasesBody struct {
	InForce InForce `json:"in_force"`
	Items   []ReleaseView
}

type releasePreview struct {
	Effect  review.Effect
	Changes []ChangeView
}

func (c *apiClub) tablesInForce() InForce {
	c.t.Helper()
	return decoded[releasesBody](c.call("ben", "GET", smallGroup+"/releases", nil).is(http.StatusOK)).InForce
}

// proposed is an open change of Carl's.
func (c *apiClub) proposed() ChangeView {
	c.t.Helper()
	return decoded[ChangeView](c.call("carl", "POST", smallGroup+"/changes", map[string]any{"edit": platesEdit, "reason": "counted again"}).is(http.StatusCreated))
}

// reassessed is the key of a reassessment by another confidence, which has come to its end and found a settled determination below it.
func (c *apiClub) reassessed() string {
	c.t.Helper()
	c.policy(map[string][]string{})
	got := c.call("cora", http.MethodPost, at(c.submitted(), "/reviews"), agrees).is(http.StatusOK).view()
	require.Equal(c.t, review.StatusConfirmed, got.Submission.Status)
	form := service.ReassessmentForm{Group: "small-test-group", Confidence: 0.997}
	key, job, err := c.server.Service.PrepareReassessment(c.t.Context(), c.actor("cora"), form)
	require.NoError(c.t, err)
	require.NoError(c.t, c.server.Service.Do(c.t.Context(), job, nil))
	return key
}

// approved is a change that Cora has approved.
func (c *apiClub) approved() ChangeView {
	c.t.Helper()
	return c.decided(c.proposed(), "cora", "approved")
}

func (c *apiClub) decided(change ChangeView, who, status string) ChangeView {
	c.t.Helper()
	return decoded[ChangeView](c.call(who, "POST", smallGroup+"/changes/"+change.ID+"/decision",
		map[string]any{"status": status, "reason": "so it is"}).is(http.StatusOK))
}

// edited is a folder with a text replaced in one file, which must be there.
func edited(t testing.TB, folder fs.FS, name, from, to string) fs.FS {
	t.Helper()
	files, err := diagnosis.Contents(folder)
	require.NoError(t, err)
	require.Contains(t, files[name], from)
	files[name] = strings.Replace(files[name], from, to, 1)
	return diagnosis.FromContents(files)
}

// zipped packs a folder with the standard library's own walk, in another order and with other times than ours.
func zipped(t testing.TB, folder fs.FS) []byte {
	t.Helper()
	var buffer bytes.Buffer
	w := zip.NewWriter(&buffer)
	require.NoError(t, w.AddFS(folder))
	require.NoError(t, w.Close())
	return buffer.Bytes()
}

// unzipped are the files of an archive by name.
func unzipped(t testing.TB, data []byte) map[string]string {
	t.Helper()
	archive, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	files := map[string]string{}
	for _, f := range archive.File {
		r, err := f.Open()
		require.NoError(t, err)
		text, err := io.ReadAll(r)
		require.NoError(t, err)
		require.NoError(t, r.Close())
		files[f.Name] = string(text)
	}
	return files
}

// drawing is a picture that tables may hold.
const drawing = `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10"><title>a line</title><desc>a line</desc><path d="M0 0L9 9"/></svg>`

// secondTables is another group: the small one under another id, with a drawing of every state and one family more.
func secondTables(t testing.TB) *diagnosis.Tables {
	t.Helper()
	files, err := diagnosis.Contents(edited(t, smallTables(), "group.yaml", "group: small-test-group", "group: second-test-group"))
	require.NoError(t, err)
	elateridae := files["families/Elateridae.yaml"]
	lampyridae := strings.NewReplacer("family: Elateridae", "family: Lampyridae", "  - {name: Drilidae, remark: Included today.}", "  - {name: Lampyrida, remark: Misspelt.}").Replace(elateridae)
	files["families/Lampyridae.yaml"] = lampyridae
	for _, state := range []string{"antenna-form/filiform", "antenna-form/serrate", "antenna-form/clavate", "antenna-elbowed/yes",
		"antenna-elbowed/no", "vesicles/present", "vesicles/absent"} {
		files["pictures/"+state+".svg"] = drawing
	}
	return loaded(t, diagnosis.FromContents(files))
}

// twoGroups is a club with a second group of tables.
func twoGroups(t testing.TB) *apiClub {
	t.Helper()
	return newAPIClubWith(t, []*diagnosis.Tables{loaded(t, smallTables()), secondTables(t)},
		func(*Config, *auth.Options) {})
}

func TestGroupsAreKeptApart(t *testing.T) {
	club := twoGroups(t)
	groups := decoded[groupsBody](club.call("ben", "GET", "/api/v1/groups", nil).is(http.StatusOK)).Items
	require.Len(t, groups, 2)
	require.Equal(t, []string{"small-test-group", "second-test-group"}, []string{groups[0].Group, groups[1].Group})
	require.Equal(t, []int{2, 3}, []int{groups[0].Families, groups[1].Families})
	require.NotEqual(t, groups[0].Hash, groups[1].Hash)

	club.call("ben", "GET", "/api/v1/families/Lampyridae", nil).is(http.StatusNotFound)
	got := decoded[FamilyView](club.call("ben", "GET", "/api/v1/families/Lampyridae?group=second-test-group", nil).is(http.StatusOK))
	require.Equal(t, "Lampyridae", got.Name)
	families := decoded[struct {
		Tables TablesView
		Items  []FamilyLine
	}](club.call("ben", "GET", "/api/v1/families?group=second-test-group", nil).is(http.StatusOK))
	require.Equal(t, "second-test-group", families.Tables.Group)
	require.Len(t, families.Items, 3)

	first := club.submitted()
	require.Equal(t, "small-test-group", first.Submission.Group)
	form := club.form("ada")
	form["group"], form["family"], form["label"].(map[string]any)["catalogue_number"] = "second-test-group", "Lampyridae", "AB-9"
	second := club.call("ada", "POST", "/api/v1/submissions", form).is(http.StatusCreated).view()
	require.Equal(t, groups[1].Hash, second.Assessment.TablesHash)
	form["group"] = "no-such-group"
	require.Equal(t, []string{"group"}, club.call("ada", "POST", "/api/v1/submissions", form).is(http.StatusBadRequest).fields())

	for list, who := range map[string]string{"/api/v1/submissions": "ada", "/api/v1/queue": "rita"} {
		ids := func(group string) []string {
			found := []string{}
			for _, line := range decoded[struct{ Items []service.SubmissionLine }](club.call(who, "GET", list+group, nil).is(http.StatusOK)).Items {
				found = append(found, line.ID)
			}
			return found
		}
		require.ElementsMatch(t, []string{first.Submission.ID, second.Submission.ID}, ids(""))
		require.Equal(t, []string{first.Submission.ID}, ids("?group=small-test-group"))
		require.Equal(t, []string{second.Submission.ID}, ids("?group=second-test-group"))
		require.Empty(t, ids("?group=no-such-group"))
	}

	body := map[string]any{"group": "second-test-group", "family": "Lampyridae", "observations": map[string]any{"ventrites": 5}}
	require.Equal(t, groups[1].Hash, decoded[judgement.Assessment](club.call("ben", "POST", "/api/v1/assessments", body).is(http.StatusOK)).TablesHash)
	for _, path := range []string{"/families", "/families/Elateridae", "/families/Elateridae/comparison", "/characters", "/characters/ventrites", "/pictures/eyes/notched.svg"} {
		query := "?group=none"
		if strings.HasSuffix(path, "comparison") {
			query += "&with=Buprestidae"
		}
		club.call("ben", "GET", "/api/v1"+path+query, nil).is(http.StatusNotFound)
	}
	body["group"] = "none"
	club.call("ben", "POST", "/api/v1/assessments", body).is(http.StatusNotFound)
}

func TestUnknownGroupsAndReleasesAreNotFound(t *testing.T) {
	club := twoGroups(t)
	for _, r := range routeCases {
		if !strings.HasPrefix(r.path, "/groups/") {
			continue
		}
		t.Run(r.method+" "+r.path, func(t *testing.T) {
			elsewhere := r
			elsewhere.path = strings.Replace(r.path, "small-test-group", "no-such-group", 1)
			club.try(elsewhere, "cora", service.SubmissionView{Submission: review.Submission{Photos: []string{""}}}).is(http.StatusNotFound)
		})
	}
	hash := club.tablesInForce().Hash
	for _, path := range []string{smallGroup + "/releases/" + strings.Repeat("0", 64), smallGroup + "/releases/" + hash[:12],
		smallGroup + "/releases/x", "/api/v1/groups/second-test-group/releases/" + hash, smallGroup + "/changes/none",
		"/api/v1/groups/second-test-group/changes/" + club.proposed().ID, "/api/v1/characters/colour"} {
		club.call("cora", "GET", path, nil).is(http.StatusNotFound)
	}
	club.call("cora", "POST", "/api/v1/groups/second-test-group/changes/"+club.proposed().ID+"/decision",
		map[string]any{"status": "approved", "reason": "no"}).is(http.StatusNotFound)
}

func TestComparison(t *testing.T) {
	club := newAPIClub(t)
	type body struct {
		Family, With Compared
		Items        []Telling
	}
	got := decoded[body](club.call("ben", "GET", "/api/v1/families/Drilidae/comparison?with=Buprestidae", nil).is(http.StatusOK))
	require.Equal(t, Compared{Name: "Elateridae", Common: "click beetles", Remark: "Included today."}, got.Family)
	require.Equal(t, "Buprestidae", got.With.Name)
	require.Len(t, got.Items, 6, "every character of the tables")
	// Five plates against seven or eight: by far the most that can be told here.
	require.Equal(t, "ventrites", got.Items[0].Character)
	require.Equal(t, "Abdominal plates", got.Items[0].Label)
	require.Contains(t, got.Items[0].Family, "5")
	require.Contains(t, got.Items[0].With, "8")
	for i, item := range got.Items {
		require.LessOrEqual(t, item.Bits, 1.0)
		require.GreaterOrEqual(t, item.Bits, 0.0)
		if i > 0 {
			require.LessOrEqual(t, item.Bits, got.Items[i-1].Bits)
		}
	}
	other := decoded[body](club.call("ben", "GET", "/api/v1/families/Buprestidae/comparison?with=Elateridae", nil).is(http.StatusOK))
	require.Equal(t, got.Items[0].Family, other.Items[0].With)

	require.Equal(t, []string{"with"}, club.call("ben", "GET", "/api/v1/families/Elateridae/comparison", nil).is(http.StatusBadRequest).fields())
	require.Equal(t, []string{"with"}, club.call("ben", "GET", "/api/v1/families/Elateridae/comparison?with=Nonidae", nil).is(http.StatusBadRequest).fields())
	require.Equal(t, []string{"with"}, club.call("ben", "GET", "/api/v1/families/Elateridae/comparison?with=Drilidae", nil).is(http.StatusBadRequest).fields())
	club.call("ben", "GET", "/api/v1/families/Nonidae/comparison?with=Elateridae", nil).is(http.StatusNotFound)
}

func TestCharacter(t *testing.T) {
	club := newAPIClub(t)
	type body struct {
		Character CharacterView
		States    []Showing
		Lengths   []Measured
		Unknown   []string
	}
	plates := decoded[body](club.call("ben", "GET", "/api/v1/characters/ventrites", nil).is(http.StatusOK))
	require.Equal(t, "Abdominal plates", plates.Character.Label)
	require.Len(t, plates.States, 8, "2 to 9 plates")
	require.Empty(t, plates.Lengths)
	require.Empty(t, plates.Unknown)
	require.Equal(t, "8", plates.States[6].State)
	require.Equal(t, "Buprestidae", plates.States[6].Families[0].Family)
	require.Len(t, plates.States[6].Families, 1)
	six := plates.States[4].Families
	require.Equal(t, "6", plates.States[4].State)
	require.Len(t, six, 1)
	require.Greater(t, six[0].P, 0.1, "the form that always has six is a tenth of the family")

	length := decoded[body](club.call("ben", "GET", "/api/v1/characters/length", nil).is(http.StatusOK))
	require.Empty(t, length.States)
	require.Equal(t, []Measured{{Family: "Elateridae", Length: LengthView{Min: 1.5, UsualMin: 5, UsualMax: 25, Max: 75}}}, length.Lengths)
	require.Equal(t, []string{"Buprestidae"}, length.Unknown)
}

func TestPictures(t *testing.T) {
	club := twoGroups(t)
	const path = "/api/v1/pictures/antenna-form/serrate.svg?group=second-test-group"
	got := club.call("ben", "GET", path, nil).is(http.StatusOK)
	require.Equal(t, drawing, string(got.body))
	require.Equal(t, "image/svg+xml", got.header.Get("Content-Type"))
	require.Equal(t, "nosniff", got.header.Get("X-Content-Type-Options"))
	require.Equal(t, "default-src 'none'; sandbox", got.header.Get("Content-Security-Policy"))
	club.call("ben", "GET", path, nil, "If-None-Match", got.header.Get("ETag")).is(http.StatusNotModified)
	for _, missing := range []string{"antenna-form/serrate", "antenna-form/none.svg", "none/serrate.svg", "ventrites/5.svg"} {
		club.call("ben", "GET", "/api/v1/pictures/"+missing+"?group=second-test-group", nil).is(http.StatusNotFound)
	}
	club.call("ben", "GET", "/api/v1/pictures/antenna-form/serrate.svg", nil).is(http.StatusNotFound)
}

func TestReleaseArchive(t *testing.T) {
	club := newAPIClub(t)
	built := club.tablesInForce()
	require.True(t, built.BuiltIn)
	path := smallGroup + "/releases/" + built.Hash
	got := club.call("ben", "GET", path, nil).is(http.StatusOK)
	require.Equal(t, "application/zip", got.header.Get("Content-Type"))
	require.Equal(t, `"`+built.Hash+`"`, got.header.Get("ETag"))
	require.Equal(t, "attachment; filename=small-test-group-"+built.Hash[:12]+".zip", got.header.Get("Content-Disposition"))
	want, err := diagnosis.Contents(smallTables())
	require.NoError(t, err)
	require.Equal(t, want, unzipped(t, got.body))
	for name, text := range want {
		onDisk, err := os.ReadFile("../review/diagnosis/testdata/valid/" + name)
		require.NoError(t, err)
		require.Equal(t, string(onDisk), text)
	}
	require.Equal(t, got.body, club.call("cora", "GET", path, nil).is(http.StatusOK).body, "the same bytes every time")
	again := club.call("ben", "GET", path, nil, "If-None-Match", got.header.Get("ETag")).is(http.StatusNotModified)
	require.Empty(t, again.body)

	archive, err := zip.NewReader(bytes.NewReader(got.body), int64(len(got.body)))
	require.NoError(t, err)
	names := []string{}
	for _, f := range archive.File {
		names = append(names, f.Name)
		require.True(t, f.Modified.Equal(archiveTime))
	}
	require.IsIncreasing(t, names)
}

package web

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/diagnosis"
)

func TestAChangeFromProposalToRelease(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	before := club.tablesInForce()

	effect := decoded[review.Effect](club.call("carl", "POST", smallGroup+"/changes/preview", map[string]any{"edit": platesEdit}).is(http.StatusOK))
	require.Equal(t, 1, effect.Looked)
	require.Equal(t, 1, effect.Changed)
	require.Equal(t, v.Submission.ID, effect.List[0].Submission)
	// Five plates are seen: where they are not always so, they tell less.
	require.Less(t, effect.List[0].After, effect.List[0].Before)
	require.Empty(t, decoded[struct{ Items []ChangeView }](club.call("carl", "GET", smallGroup+"/changes", nil).is(http.StatusOK)).Items, "a preview stores nothing")

	made := club.call("carl", "POST", smallGroup+"/changes", map[string]any{"edit": platesEdit, "reason": "counted again"}).is(http.StatusCreated)
	change := decoded[ChangeView](made)
	require.Equal(t, `"1"`, made.header.Get("ETag"))
	require.Equal(t, smallGroup+"/changes/"+change.ID, made.header.Get("Location"))
	require.Equal(t, "Name of carl", change.ByName)
	require.Equal(t, before.Hash, change.BaseHash)
	require.Equal(t, CellForm{Family: "Elateridae", Character: "ventrites", States: []StateWord{{"5", "usually"}, {"6-7", "often"}, {"rest", "never"}}}, change.Edit)
	path := made.header.Get("Location")
	club.call("cora", "GET", path, nil, "If-None-Match", `"1"`).is(http.StatusNotModified)

	decision := map[string]any{"status": "approved", "reason": "so it is"}
	club.call("carl", "POST", path+"/decision", decision).is(http.StatusForbidden)
	club.call("cora", "POST", path+"/decision", map[string]any{"status": "withdrawn", "reason": "no"}).is(http.StatusForbidden)
	decided := club.call("cora", "POST", path+"/decision", decision, "If-Match", `"1"`).is(http.StatusOK)
	require.Equal(t, `"2"`, decided.header.Get("ETag"))
	require.Equal(t, "Name of cora", decoded[ChangeView](decided).DecidedByName)
	club.call("cora", "POST", path+"/decision", decision, "If-Match", `"1"`).is(http.StatusPreconditionFailed)
	club.call("cora", "POST", path+"/decision", decision).is(http.StatusConflict)

	seen := club.call("cora", "GET", smallGroup+"/release-preview", nil).is(http.StatusOK)
	preview := decoded[releasePreview](seen)
	require.Equal(t, 1, preview.Effect.Changed)
	require.Equal(t, change.ID, preview.Changes[0].ID)
	require.Equal(t, "Name of carl", preview.Changes[0].ByName)

	published := club.call("cora", "POST", smallGroup+"/releases", map[string]any{"version": "2", "notes": "plates"}, "If-Match", seen.header.Get("ETag")).is(http.StatusCreated)
	release := decoded[review.Release](published)
	require.Equal(t, []string{change.ID}, release.Proposals)
	require.Equal(t, smallGroup+"/releases/"+release.Hash, published.header.Get("Location"))

	list := decoded[releasesBody](club.call("ben", "GET", smallGroup+"/releases", nil).is(http.StatusOK))
	require.Equal(t, InForce{Release: "2", Hash: release.Hash}, list.InForce)
	require.Equal(t, "Name of cora", list.Items[0].ByName)
	got := unzipped(t, club.call("ben", "GET", published.header.Get("Location"), nil).is(http.StatusOK).body)
	require.Contains(t, got["families/Elateridae.yaml"], "5: usually")
	require.Equal(t, release.Hash, loaded(t, diagnosis.FromContents(got)).Hash)
	require.Equal(t, review.ProposalReleased, decoded[ChangeView](club.call("cora", "GET", path, nil)).Status)

	after := club.call("ada", "GET", at(v, ""), nil).is(http.StatusOK).view()
	require.Equal(t, release.Hash, after.Assessment.TablesHash, "the open submission is assessed with the tables in force")
	require.InDelta(t, effect.List[0].After, after.Assessment.Confidence, 1e-9, "as the preview said")
}

func TestChangesByStatus(t *testing.T) {
	club := newAPIClub(t)
	refused, withdrawn, open := club.proposed(), club.proposed(), club.proposed()
	club.decided(refused, "cora", "refused")
	club.decided(withdrawn, "carl", "withdrawn")
	ids := func(query string) []string {
		found := []string{}
		for _, c := range decoded[struct{ Items []ChangeView }](club.call("cora", "GET", smallGroup+"/changes"+query, nil).is(http.StatusOK)).Items {
			found = append(found, c.ID)
		}
		return found
	}
	require.Equal(t, []string{open.ID, withdrawn.ID, refused.ID}, ids(""), "the latest first")
	require.Equal(t, []string{open.ID}, ids("?status=open"))
	require.Equal(t, []string{refused.ID}, ids("?status=refused"))
	require.Equal(t, []string{withdrawn.ID}, ids("?status=withdrawn"))
	require.Empty(t, ids("?status=approved"))
	require.Equal(t, []string{"status"}, club.call("cora", "GET", smallGroup+"/changes?status=lost", nil).is(http.StatusBadRequest).fields())
}

func TestUnsoundChanges(t *testing.T) {
	club := newAPIClub(t)
	states := func(pairs ...string) []any {
		list := []any{}
		for i := 0; i < len(pairs); i += 2 {
			list = append(list, map[string]any{"state": pairs[i], "word": pairs[i+1]})
		}
		return list
	}
	for name, c := range map[string]struct {
		edit  map[string]any
		field string
	}{
		"unknown family":    {map[string]any{"family": "Nonidae", "character": "ventrites", "states": states("5", "always")}, "edit"},
		"a path":            {map[string]any{"family": "../group", "character": "ventrites", "states": states("5", "always")}, "edit"},
		"unknown character": {map[string]any{"family": "Elateridae", "character": "colour", "states": states("red", "always")}, "edit"},
		"unknown form":      {map[string]any{"family": "Elateridae", "form": "blue", "character": "ventrites", "states": states("5", "always")}, "edit"},
		"unknown word":      {map[string]any{"family": "Elateridae", "character": "ventrites", "states": states("5", "mostly")}, "edit"},
		"unknown source":    {map[string]any{"family": "Elateridae", "character": "ventrites", "states": states("5", "always"), "source": "hearsay", "place": "p. 1"}, "edit"},
		"not 1 in sum":      {map[string]any{"family": "Elateridae", "character": "ventrites", "states": states("5", "0.5", "6", "0.1")}, "edit"},
		"length for states": {map[string]any{"family": "Elateridae", "character": "ventrites", "length": map[string]any{"min": 1, "usual_min": 2, "usual_max": 3, "max": 4}}, "edit"},
		"extremes inside":   {map[string]any{"family": "Elateridae", "character": "length", "length": map[string]any{"min": 9, "usual_min": 2, "usual_max": 3, "max": 4}}, "edit"},
		"no family":         {map[string]any{"character": "ventrites", "states": states("5", "always")}, "edit.family"},
		"basis":             {map[string]any{"family": "Elateridae", "character": "ventrites", "basis": "dream", "states": states("5", "always")}, "edit.basis"},
		"half a length":     {map[string]any{"family": "Elateridae", "character": "length", "length": map[string]any{"min": 9}}, "edit.length.usual_min"},
	} {
		t.Run(name, func(t *testing.T) {
			for _, path := range []string{"/changes/preview", "/changes"} {
				body := map[string]any{"edit": c.edit}
				if path == "/changes" {
					body["reason"] = "for the test"
				}
				require.Contains(t, club.call("cora", "POST", smallGroup+path, body).is(http.StatusBadRequest).fields(), c.field)
			}
		})
	}
	good := map[string]any{"family": "Elateridae", "character": "length", "source": "guide", "place": "page 9", "basis": "read",
		"length": map[string]any{"min": 1, "usual_min": 4, "usual_max": 30, "max": 80}, "note": "measured"}
	made := decoded[ChangeView](club.call("cora", "POST", smallGroup+"/changes", map[string]any{"edit": good, "reason": "measured"}).is(http.StatusCreated))
	require.Equal(t, CellForm{Family: "Elateridae", Character: "length", Length: &LengthView{Min: 1, UsualMin: 4, UsualMax: 30, Max: 80},
		Source: "guide", Place: "page 9", Basis: "read", Note: "measured"}, made.Edit)
	require.Equal(t, []string{"reason"}, club.call("cora", "POST", smallGroup+"/changes", map[string]any{"edit": good}).is(http.StatusBadRequest).fields())
}

func TestPublishing(t *testing.T) {
	club := newAPIClub(t)
	publish := func(version string, headers ...string) *reply {
		return club.call("cora", "POST", smallGroup+"/releases", map[string]any{"version": version}, headers...)
	}
	publish("2").is(http.StatusConflict) // nothing waits
	empty := club.call("cora", "GET", smallGroup+"/release-preview", nil).is(http.StatusOK)
	require.Empty(t, decoded[releasePreview](empty).Changes)

	club.approved()
	// What was seen is no longer what would be published.
	publish("2", "If-Match", empty.header.Get("ETag")).is(http.StatusPreconditionFailed)
	require.Equal(t, []string{"version"}, publish("1").is(http.StatusBadRequest).fields())
	require.Equal(t, []string{"version"}, publish("").is(http.StatusBadRequest).fields())
	publish("2", "If-Match", club.call("cora", "GET", smallGroup+"/release-preview", nil).is(http.StatusOK).header.Get("ETag")).is(http.StatusCreated)
	club.approved()
	publish("2").is(http.StatusConflict) // the same change once more changes nothing
	other := map[string]any{"family": "Elateridae", "character": "antenna-elbowed", "states": []any{map[string]any{"state": "no", "word": "always"},
		map[string]any{"state": "yes", "word": "rarely"}}}
	change := decoded[ChangeView](club.call("carl", "POST", smallGroup+"/changes", map[string]any{"edit": other, "reason": "seen"}).is(http.StatusCreated))
	club.decided(change, "cora", "approved")
	require.Equal(t, []string{"version"}, publish("2").is(http.StatusBadRequest).fields(), "releases never change")
	publish("3").is(http.StatusCreated)
}

// Two changes may each be sound and not be so together: then a release is a conflict, not a wrong field.
func TestChangesThatDoNotFitTogether(t *testing.T) {
	club := newAPIClub(t)
	approve := func(edit map[string]any) {
		change := decoded[ChangeView](club.call("carl", "POST", smallGroup+"/changes", map[string]any{"edit": edit, "reason": "counted"}).is(http.StatusCreated))
		club.decided(change, "cora", "approved")
	}
	approve(map[string]any{"family": "Elateridae", "form": "cebrionine", "character": "antenna-form", "states": []any{map[string]any{"state": "serrate", "word": "always"}}})
	// Another club's tables, in which that form has another name, come in between.
	other := edited(t, edited(t, smallTables(), "group.yaml", `release: "1"`, `release: "7"`), "families/Elateridae.yaml", "id: cebrionine", "id: cebrio")
	club.call("cora", "POST", smallGroup+"/imports", zipped(t, other), "Content-Type", "application/zip").is(http.StatusCreated)
	for _, r := range []*reply{club.call("cora", "GET", smallGroup+"/release-preview", nil),
		club.call("cora", "POST", smallGroup+"/releases", map[string]any{"version": "8"})} {
		require.Contains(t, r.is(http.StatusConflict).problem().Detail, "unknown form")
	}
	require.Equal(t, "7", club.tablesInForce().Release)
}

// archiveOf packs entries in their order, with modes, whatever their names; the text of each stands in its Comment.
func archiveOf(t testing.TB, entries ...zip.FileHeader) []byte {
	t.Helper()
	var buffer bytes.Buffer
	w := zip.NewWriter(&buffer)
	for i := range entries {
		header := entries[i]
		text := header.Comment
		header.Method, header.Comment = zip.Deflate, ""
		file, err := w.CreateHeader(&header)
		require.NoError(t, err)
		if !strings.HasSuffix(header.Name, "/") {
			_, err = file.Write([]byte(text))
			require.NoError(t, err)
		}
	}
	require.NoError(t, w.Close())
	return buffer.Bytes()
}

func entry(name, text string) zip.FileHeader { return zip.FileHeader{Name: name, Comment: text} }

func TestImport(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	send := func(body []byte) *reply {
		return club.call("cora", "POST", smallGroup+"/imports", body, "Content-Type", "application/zip")
	}
	first := club.tablesInForce()
	other := edited(t, edited(t, smallTables(), "group.yaml", `release: "1"`, `release: "1-valley"`), "families/Elateridae.yaml", "5: always, 6-7: rarely", "5: usually, 6-7: rarely, rest: never")
	made := send(zipped(t, other)).is(http.StatusCreated)
	release := decoded[review.Release](made)
	require.Equal(t, "1-valley", release.Version)
	require.Equal(t, loaded(t, other).Hash, release.Hash)
	require.Equal(t, release.Hash, club.tablesInForce().Hash)
	require.Equal(t, release.Hash, club.call("ada", "GET", at(v, ""), nil).view().Assessment.TablesHash)
	want, err := diagnosis.Contents(other)
	require.NoError(t, err)
	sent := club.call("ben", "GET", made.header.Get("Location"), nil).is(http.StatusOK).body
	require.Equal(t, want, unzipped(t, sent))

	send(sent).is(http.StatusConflict) // they are in force
	require.Equal(t, []string{"version"}, send(zipped(t, edited(t, other, "families/Elateridae.yaml", "5: usually", "5: often"))).is(http.StatusBadRequest).fields())
	// The first tables, under a version of their own, go back.
	send(zipped(t, edited(t, smallTables(), "group.yaml", `release: "1"`, `release: "1-again"`))).is(http.StatusCreated)
	require.NotEqual(t, first.Hash, club.tablesInForce().Hash)
	require.Equal(t, sent, club.call("ben", "GET", made.header.Get("Location"), nil).is(http.StatusOK).body, "an old release stays as it was")
}

func TestImportsThatAreRefused(t *testing.T) {
	club := twoGroups(t)
	before := club.tablesInForce()
	group := entry("group.yaml", "group: x")
	many := []zip.FileHeader{group}
	for i := range maxArchiveFiles {
		many = append(many, entry(fmt.Sprintf("families/F%d.yaml", i), ""))
	}
	link := entry("families/link.yaml", "/etc/passwd")
	link.SetMode(fs.ModeSymlink | 0o777)
	broken := zipped(t, smallTables())
	broken[60] ^= 0xff
	for name, c := range map[string]struct {
		body []byte
		says string
	}{
		"no archive":       {[]byte("this is text"), "no ZIP archive"},
		"nothing":          {[]byte{}, "no ZIP archive"},
		"cut":              {zipped(t, smallTables())[:900], "no ZIP archive"},
		"broken":           {broken, "cannot be unpacked"},
		"empty":            {archiveOf(t), "no group.yaml at its top"},
		"folder itself":    {archiveOf(t, entry("tables/", ""), entry("tables/group.yaml", "group: x")), "no group.yaml at its top"},
		"path out":         {archiveOf(t, group, entry("../evil.yaml", "x")), "no plain path"},
		"path out, deep":   {archiveOf(t, group, entry("families/../../evil.yaml", "x")), "no plain path"},
		"from the root":    {archiveOf(t, group, entry("/etc/evil.yaml", "x")), "no plain path"},
		"backslash":        {archiveOf(t, group, entry(`..\evil.yaml`, "x")), "no plain path"},
		"drive":            {archiveOf(t, group, entry("C:evil.yaml", "x")), "no plain path"},
		"zero in the name": {archiveOf(t, group, entry("a\x00b.yaml", "x")), "no plain path"},
		"folder out":       {archiveOf(t, group, entry("../", "")), "no plain path"},
		"link":             {archiveOf(t, group, link), "no ordinary file"},
		"twice":            {archiveOf(t, group, group), "twice"},
		"file and folder":  {archiveOf(t, group, entry("families", "x"), entry("families/A.yaml", "x")), "both as a file and as a folder"},
		"too many":         {archiveOf(t, many...), "more than 2000 files"},
		"broken tables":    {archiveOf(t, group), "group.yaml"},
		"of another group": {zipped(t, secondTables(t).Folder()), "those of small-test-group"},
		"no text":          {zipped(t, edited(t, smallTables(), "group.yaml", "Two families", "\xff\xfe")), "UTF-8"},
		"large file":       {archiveOf(t, group, entry("bomb.yaml", strings.Repeat("\x00", 64<<20))), "larger than 256 KiB when unpacked"},
		"many nodes":       {zipped(t, edited(t, smallTables(), "group.yaml", "Two families", "x\n"+strings.Repeat("- a\n", 50_000))), "more than 30000 signs"},
	} {
		t.Run(name, func(t *testing.T) {
			require.Less(t, len(c.body), maxArchive)
			got := club.call("cora", "POST", smallGroup+"/imports", c.body, "Content-Type", "application/zip").is(http.StatusBadRequest)
			require.Equal(t, "body", got.fields()[0])
			require.Contains(t, string(got.body), c.says)
		})
	}
	good := zipped(t, edited(t, smallTables(), "group.yaml", `release: "1"`, `release: "2"`))
	for _, media := range []string{"", "application/json", "application/octet-stream", "multipart/form-data", "application/zipped"} {
		club.call("cora", "POST", smallGroup+"/imports", good, "Content-Type", media).is(http.StatusUnsupportedMediaType)
	}
	club.call("cora", "POST", smallGroup+"/imports", make([]byte, maxArchive+1), "Content-Type", "application/zip").is(http.StatusRequestEntityTooLarge)
	club.call("cora", "POST", "/api/v1/assessments", make([]byte, maxTextBody+1), "Content-Type", "application/json").is(http.StatusRequestEntityTooLarge)
	require.Equal(t, before, club.tablesInForce())
}

// Seventy files of 256 KiB each take some 20 kB packed: none is too large by itself, and the directory of an archive may say
// of sizes what it likes, so that what counts is what comes out.
func TestManySmallBombs(t *testing.T) {
	entries := []zip.FileHeader{entry("group.yaml", "group: x")}
	for i := range 70 {
		entries = append(entries, entry(fmt.Sprintf("%d.yaml", i), strings.Repeat("0", diagnosis.MaxFileBytes)))
	}
	_, err := unpacked(archiveOf(t, entries...))
	require.ErrorContains(t, err, "12 MiB when unpacked")
}

// TestOneImportAtATime: while an archive arrives, another curator is told to wait, and afterwards the slot is free again.
func TestOneImportAtATime(t *testing.T) {
	club := twoGroups(t)
	arriving, rest := io.Pipe()
	request := httptest.NewRequest(http.MethodPost, smallGroup+"/imports", arriving)
	request.Header.Set("Content-Type", "application/zip")
	request.Header.Set("Authorization", "Bearer "+club.token("cora"))
	ended := make(chan int, 1)
	go func() {
		answer := httptest.NewRecorder()
		club.handler.ServeHTTP(answer, request)
		ended <- answer.Code
	}()
	_, err := rest.Write([]byte("P")) // returns when the body is being read
	require.NoError(t, err)
	second := func() *reply {
		return club.call("cora", "POST", smallGroup+"/imports", []byte("no archive"), "Content-Type", "application/zip")
	}
	require.Contains(t, string(second().is(http.StatusConflict).body), "Another import")
	require.NoError(t, rest.Close())
	require.Equal(t, http.StatusBadRequest, <-ended)
	second().is(http.StatusBadRequest)
}

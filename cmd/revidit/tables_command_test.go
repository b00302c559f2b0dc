package main

import (
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// rewrite replaces what a pattern finds once in a file, as somebody with an editor would.
func rewrite(t *testing.T, file, pattern, with string) {
	t.Helper()
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	found := regexp.MustCompile(pattern)
	require.Len(t, found.FindAllIndex(text, -1), 1, "%s in %s", pattern, file)
	require.NoError(t, os.WriteFile(file, found.ReplaceAll(text, []byte(with)), 0o600))
}

func contents(t *testing.T, dir string) map[string]string {
	t.Helper()
	files, err := diagnosis.Contents(os.DirFS(dir))
	require.NoError(t, err)
	return files
}

// everything is every file below a folder, whether it belongs to tables or not.
func everything(t *testing.T, dir string) map[string]string {
	t.Helper()
	files := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, entry os.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		files[filepath.ToSlash(strings.TrimPrefix(path, dir+string(filepath.Separator)))] = string(text)
		return err
	}))
	return files
}

// output is what a command prints that must succeed.
func output(t *testing.T, args ...string) string {
	t.Helper()
	result := runHere(t, "", args...)
	require.Equal(t, 0, result.code, result.err)
	return result.out
}

// otherTables exports the built-in tables to a folder, and changes there the version and the plates of click beetles.
func otherTables(t *testing.T, data, version string) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "tables")
	output(t, "tables", "export", "--data", data, "--release", diagnosis.Default().Hash, dir)
	rewrite(t, filepath.Join(dir, "group.yaml"), `(?m)^release: .*$`, "release: '"+version+"'")
	rewrite(t, filepath.Join(dir, "families", "Elateridae.yaml"), `(?m)^  ventrites:\n    states: .*$`, "  ventrites:\n    states: {5: never, 6: always}")
	return dir
}

func TestTablesFromExportToService(t *testing.T) {
	t.Parallel()
	data, builtIn := newClub(t), diagnosis.Default()
	before := filepath.Join(t.TempDir(), "before")
	require.Contains(t, output(t, "tables", "export", "--data", data, before), builtIn.Group.Release)
	want, err := diagnosis.Contents(builtIn.Folder())
	require.NoError(t, err)
	require.Equal(t, want, everything(t, before))
	require.Contains(t, output(t, "lint", "--tables", before), builtIn.Hash)

	served := startProgram(t, "serve", "--insecure", "--data", data, "--addr", "127.0.0.1:0")
	assess := func() judgement.Assessment {
		var a judgement.Assessment
		status, err := loginClient(t, served, "member").send("POST", "/assessments", map[string]any{"family": "Elateridae",
			"observations": map[string]any{"ventrites": 5}}, nil, &a)
		require.NoError(t, err)
		require.Equal(t, http.StatusOK, status)
		return a
	}
	first := assess()
	require.Equal(t, builtIn.Hash, first.TablesHash)
	require.Empty(t, first.Contradictions)

	dir := otherTables(t, data, "valley-1")
	require.Contains(t, output(t, "lint", "--tables", dir), "no problem")
	require.Contains(t, output(t, "tables", "import", "--data", data, "--as", "Curator", dir), "coleoptera-adults, release valley-1")
	loaded, problems := diagnosis.Load(os.DirFS(dir))
	require.Empty(t, problems)

	list := output(t, "tables", "list", "--data", data)
	require.Regexp(t, `(?m)^coleoptera-adults +valley-1 +`+loaded.Hash[:12]+` +yes +published \d{4}-\d\d-\d\d by Test curator$`, list)
	require.Regexp(t, `(?m)^coleoptera-adults +`+regexp.QuoteMeta(builtIn.Group.Release)+` +`+builtIn.Hash[:12]+` +built in$`, list)
	require.Equal(t, 1+1+len(diagnosis.All()), strings.Count(list, "\n"), "a heading, one published, and every built-in one")

	// The server was running all the while.
	second := assess()
	require.Equal(t, loaded.Hash, second.TablesHash)
	require.Less(t, second.Confidence, first.Confidence)
	fromFiles := review.NewJudge(loaded).Assess(judgement.Evidence{Family: "Elateridae", Stated: []judgement.Stated{{Character: "ventrites", State: "5"}}})
	require.InDelta(t, fromFiles.Confidence, second.Confidence, 1e-12)

	for name, flags := range map[string][]string{"in-force": nil, "by-version": {"--release", "valley-1"}, "by-hash": {"--release", loaded.Hash[:12]}} {
		again := filepath.Join(t.TempDir(), name)
		output(t, append(append([]string{"tables", "export", "--data", data}, flags...), again)...)
		require.Equal(t, contents(t, dir), everything(t, again))
	}
	old := filepath.Join(t.TempDir(), "old")
	output(t, "tables", "export", "--data", data, "--group", "coleoptera-adults", "--release", builtIn.Group.Release, old)
	require.Equal(t, everything(t, before), everything(t, old))

	next := otherTables(t, data, "valley-2")
	output(t, "tables", "import", "--data", data, "--as", "curator", next)
	superseded := filepath.Join(t.TempDir(), "superseded")
	output(t, "tables", "export", "--data", data, "--release", "valley-1", superseded)
	require.Equal(t, contents(t, dir), everything(t, superseded), "a release stays as it was published")
}

func TestTablesOfOtherGroups(t *testing.T) {
	t.Parallel()
	data := newClub(t)
	for _, tables := range diagnosis.All() {
		dir := filepath.Join(t.TempDir(), tables.Group.ID)
		output(t, "tables", "export", "--data", data, "--group", tables.Group.ID, dir)
		want, err := diagnosis.Contents(tables.Folder())
		require.NoError(t, err)
		require.Equal(t, want, everything(t, dir))
	}
	// A group that only a flag brings.
	small := filepath.Join("..", "..", "review", "diagnosis", "testdata", "valid")
	dir := filepath.Join(t.TempDir(), "small")
	output(t, "tables", "export", "--data", data, "--tables", small, "--group", "small-test-group", dir)
	require.Equal(t, everything(t, small), everything(t, dir))
	require.Contains(t, output(t, "tables", "list", "--data", data, "--tables", small), "small-test-group")
}

func TestTablesCommandsThatAreRefused(t *testing.T) {
	t.Parallel()
	data := newClub(t)
	good := otherTables(t, data, "valley-1")
	unsound := otherTables(t, data, "valley-2")
	rewrite(t, filepath.Join(unsound, "families", "Elateridae.yaml"), `\{5: never, 6: always\}`, "{5: never, 66: always}")
	sameVersion := otherTables(t, data, diagnosis.Default().Group.Release)
	plain := filepath.Join(t.TempDir(), "plain")
	require.NoError(t, os.Mkdir(plain, 0o700))
	full := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(full, "kept.txt"), []byte("mine"), 0o600))
	require.Equal(t, 0, runHere(t, "", "user", "disable", "--reason", "a test", "--data", data, "second").code)
	for name, c := range map[string]struct {
		args []string
		code int
		says string
	}{
		"member":            {[]string{"import", "--as", "member", good}, 1, "only curators"},
		"reviewer":          {[]string{"import", "--as", "reviewer", good}, 1, "only curators"},
		"disabled":          {[]string{"import", "--as", "second", good}, 1, "is disabled"},
		"nobody":            {[]string{"import", "--as", "nobody", good}, 1, "there is no login"},
		"no login":          {[]string{"import", good}, 2, "--as"},
		"no folder":         {[]string{"import", "--as", "curator", filepath.Join(plain, "none")}, 2, "none"},
		"no tables":         {[]string{"import", "--as", "curator", plain}, 1, "group.yaml"},
		"unsound":           {[]string{"import", "--as", "curator", unsound}, 1, "families/Elateridae.yaml:"},
		"version in force":  {[]string{"import", "--as", "curator", sameVersion}, 1, "version: "},
		"full folder":       {[]string{"export", full}, 1, "not empty"},
		"unknown group":     {[]string{"export", "--group", "none", plain}, 1, `no group "none"`},
		"unknown release":   {[]string{"export", "--release", "none", plain}, 1, `no release "none"`},
		"too short a hash":  {[]string{"export", "--release", diagnosis.Default().Hash[:11], plain}, 1, "no release"},
		"of another group":  {[]string{"export", "--group", diagnosis.All()[1].Group.ID, "--release", diagnosis.Default().Hash, plain}, 1, "no release"},
		"export to nowhere": {[]string{"export"}, 2, "dir"},
	} {
		t.Run(name, func(t *testing.T) {
			args := append([]string{"tables", c.args[0], "--data", data}, c.args[1:]...)
			result := runHere(t, "", args...)
			require.Equal(t, c.code, result.code, result.err)
			require.Contains(t, result.err, c.says)
		})
	}
	require.NotContains(t, output(t, "tables", "list", "--data", data), "published")
	require.Empty(t, everything(t, plain))
	require.Equal(t, map[string]string{"kept.txt": "mine"}, everything(t, full))
	behind := runHere(t, "", "tables", "list", "--data", filepath.Join(t.TempDir(), "new"))
	require.Equal(t, 1, behind.code)
	require.Contains(t, behind.err, "revidit migrate")
}

// A newer program brings newer built-in tables, which nobody publishes: then reassess does what publishing would.
func TestReassess(t *testing.T) {
	t.Parallel()
	data := newClub(t)
	served := startProgram(t, "serve", "--insecure", "--data", data, "--addr", "127.0.0.1:0")
	member := loginClient(t, served, "member")
	photo := member.upload(t, drawnPicture(t, "whole-below"))
	var made struct {
		Submission struct{ ID string }
		Assessment judgement.Assessment
	}
	status, err := member.send("POST", "/submissions", clickBeetle("R-1", photo), nil, &made)
	require.NoError(t, err)
	require.Equal(t, http.StatusCreated, status)
	require.Equal(t, diagnosis.Default().Hash, made.Assessment.TablesHash)
	stop(t, served) // the program of last year would bring its own tables back as soon as it looks for lost jobs

	newer := otherTables(t, data, "next-year")
	require.Contains(t, output(t, "reassess", "--data", data, "--as", "curator"), "0 submissions assessed anew")
	out := output(t, "reassess", "--data", data, "--tables", newer, "--as", "curator", "--group", "coleoptera-adults")
	require.Equal(t, "coleoptera-adults, release next-year: 1 submission assessed anew.\n", out)
	loaded, problems := diagnosis.Load(os.DirFS(newer))
	require.Empty(t, problems)
	db := openClub(t, data)
	stored, err := db.Submission(t.Context(), made.Submission.ID)
	require.NoError(t, err)
	require.NoError(t, db.Close())
	require.Equal(t, loaded.Hash, stored.Assessment.TablesHash)
	require.Contains(t, output(t, "reassess", "--data", data, "--tables", newer, "--as", "curator"), "0 submissions assessed anew")

	refused := runHere(t, "", "reassess", "--data", data, "--as", "reviewer")
	require.Equal(t, 1, refused.code)
	require.Contains(t, refused.err, "only curators")
	unknown := runHere(t, "", "reassess", "--data", data, "--as", "curator", "--group", "none")
	require.Equal(t, 1, unknown.code)
	require.Contains(t, unknown.err, `no group "none"`)
}

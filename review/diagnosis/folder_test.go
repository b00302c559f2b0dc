package diagnosis

import (
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const plainPicture = `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 8 8"><title>a</title><desc>b</desc></svg>`

func TestContentsTakesTheFilesOfTheTables(t *testing.T) {
	folder := validFiles(t)
	want := slices.Sorted(maps.Keys(folder))
	want = append(want, "odd.yaml", "pictures/antenna-form/serrate.svg")
	slices.Sort(want)
	for _, name := range []string{"odd.yaml", "pictures/antenna-form/serrate.svg", "README.md", "drawing.svg", ".hidden.yaml",
		".git/config.yaml", "families/.Elateridae.yaml", "pictures/antenna-form/note.txt", "pictures/.old/serrate.svg"} {
		folder[name] = &fstest.MapFile{Data: []byte(plainPicture)}
	}

	files, err := Contents(folder)
	require.NoError(t, err)
	require.Equal(t, want, slices.Sorted(maps.Keys(files)))
	require.Equal(t, string(folder["group.yaml"].Data), files["group.yaml"])
}

func TestContentsAndBackIsTheSameRelease(t *testing.T) {
	withPicture := validFiles(t)
	withPicture["pictures/antenna-form/serrate.svg"] = &fstest.MapFile{Data: []byte(plainPicture)}
	folders := map[string]fs.FS{"test group": validFiles(t), "with a picture": withPicture}
	for _, name := range Folders() {
		folders["shipped "+name] = Files(name)
	}
	for name, folder := range folders {
		t.Run(name, func(t *testing.T) {
			before, problems := Load(folder)
			requireNone(t, problems)
			files, err := Contents(folder)
			require.NoError(t, err)
			after, problems := Load(FromContents(files))
			requireNone(t, problems)
			require.Equal(t, before.Hash, after.Hash, "every file that the hash covers is carried")
		})
	}
}

func TestFromContentsIsTheInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		names := rapid.StringMatching(`([a-z]{1,3}/){0,2}[A-Z]{1,3}\.yaml|pictures/[a-z]{1,3}/[0-9]{1,2}\.svg`)
		files := rapid.MapOf(names, rapid.String()).Draw(t, "files")
		folder := FromContents(files)
		back, err := Contents(folder)
		require.NoError(t, err)
		require.Equal(t, files, back)
		require.NoError(t, fstest.TestFS(folder, slices.Collect(maps.Keys(files))...))
	})
}

func TestFromContentsKeepsNoHoldOfTheMap(t *testing.T) {
	files := map[string]string{"a.yaml": "one"}
	folder := FromContents(files)
	files["a.yaml"], files["b.yaml"] = "two", "new"
	back, err := Contents(folder)
	require.NoError(t, err)
	require.Equal(t, map[string]string{"a.yaml": "one"}, back)
}

func TestContentsHasLimits(t *testing.T) {
	many := func(n int, size int) fs.FS {
		folder, content := fstest.MapFS{}, []byte(strings.Repeat("x", size))
		for i := range n {
			folder[fmt.Sprintf("%04d.yaml", i)] = &fstest.MapFile{Data: content}
		}
		return folder
	}
	for _, c := range []struct {
		name    string
		folder  fs.FS
		problem string
	}{
		{"2000 files", many(2000, 1), ""},
		{"2001 files", many(2001, 1), "the folder holds more than 2000 files of tables; nothing was read"},
		{"256 KiB", many(1, 256<<10), ""},
		{"more than 256 KiB", many(1, 256<<10+1), "0000.yaml: is larger than 256 KiB; nothing was read"},
		{"12 MiB", many(48, 256<<10), ""},
		{"more than 12 MiB", many(49, 256<<10), "the folder holds more than 12 MiB of tables; nothing was read"},
		{"not UTF-8", fstest.MapFS{"a.yaml": {Data: []byte("a: \xff")}}, "a.yaml: is no UTF-8 text; save it as UTF-8"},
		{"a pipe", fstest.MapFS{"a.yaml": {Mode: fs.ModeNamedPipe}}, "a.yaml: is no ordinary file"},
	} {
		t.Run(c.name, func(t *testing.T) {
			files, err := Contents(c.folder)
			if c.problem == "" {
				require.NoError(t, err)
				require.NotEmpty(t, files)
				return
			}
			require.EqualError(t, err, c.problem)
			require.Nil(t, files)
		})
	}
}

func TestContentsReportsAMissingFolder(t *testing.T) {
	_, err := Contents(os.DirFS(filepath.Join(t.TempDir(), "nowhere")))
	require.ErrorIs(t, err, fs.ErrNotExist)
}

func TestWriteWritesWhatLoadReads(t *testing.T) {
	want := loadValid(t).Hash
	empty := t.TempDir()
	for _, dir := range []string{empty, filepath.Join(empty, "new", "deep")} {
		folder := validFiles(t)
		folder["README.md"] = &fstest.MapFile{Data: []byte("not part of the tables")}
		if dir != empty {
			require.NoError(t, os.RemoveAll(filepath.Join(empty, "families")))
		}
		require.NoError(t, Write(folder, dir))
		tables, problems := Load(os.DirFS(dir))
		requireNone(t, problems)
		require.Equal(t, want, tables.Hash)
		require.NoFileExists(t, filepath.Join(dir, "README.md"))
	}
}

func TestWriteWritesOverNothing(t *testing.T) {
	dir := t.TempDir()
	mine := filepath.Join(dir, "group.yaml")
	require.NoError(t, os.WriteFile(mine, []byte("mine"), 0o600))

	require.EqualError(t, Write(validFiles(t), dir), dir+" is not empty, and nothing was written; name a new or an empty directory")
	require.Error(t, Write(validFiles(t), mine), "a file is no directory")
	content, err := os.ReadFile(mine)
	require.NoError(t, err)
	require.Equal(t, "mine", string(content))
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, entries, 1)
}

func TestWriteWritesNothingOfAFolderBeyondTheLimits(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new")
	require.Error(t, Write(fstest.MapFS{"a.yaml": {Data: make([]byte, MaxFileBytes+1)}}, dir))
	require.NoDirExists(t, dir)
}

// A count has no states to draw, but may have a worked count: only of a character that there is.
func TestDrawingOfAWorkedCount(t *testing.T) {
	files := validFiles(t)
	files["pictures/club-segments/"+CountingPicture+".svg"] = &fstest.MapFile{Data: []byte(plainPicture)}
	tables, problems := Load(files)
	requireNone(t, problems)
	drawing, ok := tables.Picture("club-segments", CountingPicture)
	require.True(t, ok)
	require.Equal(t, plainPicture, drawing)

	files["pictures/nothing/"+CountingPicture+".svg"] = &fstest.MapFile{Data: []byte(plainPicture)}
	_, problems = Load(files)
	require.Len(t, problems, 1)
	require.Contains(t, problems[0].Message, "is the picture of no state")
}

// Where to begin and what not to count is shown for what is counted most, and said in the words beside it.
func TestCountsOfTheShippedTablesAreShown(t *testing.T) {
	tables := embedded(t)
	for _, id := range []string{"ventrites", "antenna-club-segments", "tarsi-counted", "tarsi-true"} {
		_, ok := tables.Picture(id, CountingPicture)
		require.True(t, ok, id)
		c, ok := tables.Character(id)
		require.True(t, ok, id)
		for _, words := range []string{"Begin ", " not"} {
			require.Contains(t, c.How, words, id)
		}
	}
}

package diagnosis

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v4"
)

// badCase breaks one thing in testdata/valid and says which one problem it must draw.
type badCase struct {
	File    string
	Replace string
	With    string
	Remove  bool
	Problem string
}

func validFiles(t testing.TB) fstest.MapFS {
	t.Helper()
	files := fstest.MapFS{}
	require.NoError(t, filepath.WalkDir("testdata/valid", func(name string, entry os.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		content, err := os.ReadFile(name)
		relative, _ := filepath.Rel("testdata/valid", name)
		files[filepath.ToSlash(relative)] = &fstest.MapFile{Data: content}
		return err
	}))
	return files
}

func (c badCase) apply(t *testing.T, files fstest.MapFS) {
	t.Helper()
	switch {
	case c.Remove:
		require.Contains(t, files, c.File)
		delete(files, c.File)
	case c.Replace == "":
		files[c.File] = &fstest.MapFile{Data: []byte(c.With)}
	default:
		content := string(files[c.File].Data)
		require.Equal(t, 1, strings.Count(content, c.Replace), "the text to replace must occur exactly once")
		files[c.File] = &fstest.MapFile{Data: []byte(strings.Replace(content, c.Replace, c.With, 1))}
	}
}

func TestEachBadFileDrawsItsOneProblem(t *testing.T) {
	names, err := filepath.Glob("testdata/bad/*.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, names)
	for _, name := range names {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".yaml"), func(t *testing.T) {
			content, err := os.ReadFile(name)
			require.NoError(t, err)
			var c badCase
			require.NoError(t, yaml.Load(content, &c, yaml.WithKnownFields()))
			files := validFiles(t)
			c.apply(t, files)

			tables, problems := Load(files)
			if tables != nil {
				require.Empty(t, problems)
				problems = tables.Lint()
			}
			var got []string
			for _, p := range problems {
				got = append(got, p.String())
			}
			require.Equal(t, []string{c.Problem}, got)
		})
	}
}

func TestValidFolderHasNoProblems(t *testing.T) {
	tables, problems := Load(validFiles(t))
	require.Empty(t, problems)
	require.Empty(t, tables.Lint())
	require.Equal(t, []Problem{{File: "families/Buprestidae.yaml",
		Message: "has no cell for antenna-elbowed, club-segments, vesicles, length"}}, tables.Notes())
}

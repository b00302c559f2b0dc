package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var pagesFiguresLine = regexp.MustCompile(`^rows=(\S+) submit_ratio=(\S+) queue_growth=(\S+) list_growth=(\S+) search_growth=(\S+) home_growth=(\S+) figures_growth=(\S+) act_growth=(\S+)$`)

// pagesFigures are the figures of the last line, as words.
func pagesFigures(t *testing.T, out string) []string {
	t.Helper()
	lines := strings.Split(strings.TrimSuffix(out, "\n"), "\n")
	words := pagesFiguresLine.FindStringSubmatch(lines[len(lines)-1])
	require.Len(t, words, 9, out)
	return words[1:]
}

// TestBenchPages is a short run on both databases, however long that takes on a busy machine: every page is shown, every
// figure is there, and the databases are kept where that is asked for.
func TestBenchPages(t *testing.T) {
	t.Parallel()
	folder, err := os.MkdirTemp("", "revidit-kept-") // PostgreSQL may run as another user, who cannot enter t.TempDir
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(folder)) })
	require.NoError(t, os.Chmod(folder, 0o755))
	var out, errs bytes.Buffer
	code := run(t.Context(), []string{"bench", "pages", "--rows=300", "--lives=60", "--rounds=1", "--each=1s", "--keep", folder},
		console{in: strings.NewReader(""), out: &out, err: &errs})
	require.Equal(t, 0, code, errs.String())
	require.Empty(t, errs.String(), "progress is for terminals")
	words := pagesFigures(t, out.String())
	require.Equal(t, "300", words[0])
	requirePositive(t, words[1:]...)
	require.NotContains(t, out.String(), "answered", "a page was not shown")
	for _, shown := range []string{"SQLite\n", "PostgreSQL\n", "reviewer-1 /queue", "curator-1 /figures/calibration", "review that agrees", "pgbench with the"} {
		require.Contains(t, out.String(), shown)
	}
	info, err := os.Stat(filepath.Join(folder, "sqlite-300", "revidit.sqlite"))
	require.NoError(t, err)
	require.Greater(t, info.Size(), int64(1<<20))
	clusters, err := filepath.Glob(filepath.Join(folder, "revidit-postgres-*", "data", "PG_VERSION"))
	require.NoError(t, err)
	require.Len(t, clusters, 1)
}

func TestBenchPagesRefusesNothing(t *testing.T) {
	for _, flag := range []string{"--rows=10", "--lives=3", "--each=0s", "--rounds=0"} {
		result := runHere(t, "", "bench", "pages", flag)
		require.Equal(t, 2, result.code)
		require.Contains(t, result.err, "nothing was measured")
	}
}

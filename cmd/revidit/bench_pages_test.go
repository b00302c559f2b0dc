package main

import (
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

// TestBenchPages is a short run on both databases: every page is shown, and every figure is there.
func TestBenchPages(t *testing.T) {
	t.Parallel()
	result := runHere(t, "", "bench", "pages", "--rows=300", "--lives=60", "--rounds=2", "--each=1s")
	require.Equal(t, 0, result.code, result.err)
	require.Empty(t, result.err, "progress is for terminals")
	words := pagesFigures(t, result.out)
	require.Equal(t, "300", words[0])
	requirePositive(t, words[1:]...)
	require.NotContains(t, result.out, "answered", "a page was not shown")
	for _, shown := range []string{"SQLite\n", "PostgreSQL\n", "reviewer-1 /queue", "curator-1 /figures/calibration", "review that agrees", "pgbench with the"} {
		require.Contains(t, result.out, shown)
	}
}

// TestBenchPagesKeeps: the folder that is asked for holds the databases afterwards.
func TestBenchPagesKeeps(t *testing.T) {
	t.Parallel()
	folder := filepath.Join(t.TempDir(), "kept")
	result := runHere(t, "", "bench", "pages", "--rows=200", "--lives=60", "--rounds=1", "--only=sqlite", "--keep", folder)
	require.Equal(t, 0, result.code, result.err)
	require.Equal(t, "unknown", pagesFigures(t, result.out)[1])
	info, err := os.Stat(filepath.Join(folder, "sqlite-200", "revidit.sqlite"))
	require.NoError(t, err)
	require.Greater(t, info.Size(), int64(1<<20))
}

func TestBenchPagesRefusesNothing(t *testing.T) {
	for _, flag := range []string{"--rows=10", "--lives=3", "--each=0s", "--rounds=0"} {
		result := runHere(t, "", "bench", "pages", flag)
		require.Equal(t, 2, result.code)
		require.Contains(t, result.err, "nothing was measured")
	}
}

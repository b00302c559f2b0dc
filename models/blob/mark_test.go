package blob

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestDirIsMarked(t *testing.T) {
	dir, folder := openDir(t)
	mark, err := dir.Mark()
	require.NoError(t, err)
	require.Empty(t, mark)
	for _, id := range []string{"A-CLUB", "ANOTHER"} {
		require.NoError(t, dir.SetMark(id))
		mark, err = dir.Mark()
		require.NoError(t, err)
		require.Equal(t, id, mark)
	}
	info, err := os.Stat(filepath.Join(folder, ".club"))
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o644), info.Mode().Perm(), "whoever serves the club may be somebody else than who migrates it")
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	require.Len(t, entries, 1, "no draft is left")
	require.Empty(t, listed(t, dir.Stored, 10), "it is no photo")

	require.NoError(t, os.WriteFile(filepath.Join(folder, ".club"), []byte("damaged"), 0o600))
	_, err = dir.Mark()
	require.ErrorContains(t, err, "does not say whose photos these are")
}

func TestDirIsEmpty(t *testing.T) {
	dir, _ := openDir(t)
	empty := func() bool {
		empty, err := dir.Empty(t.Context())
		require.NoError(t, err)
		return empty
	}
	require.NoError(t, dir.SetMark("A-CLUB"))
	require.True(t, empty(), "but for its mark")
	require.NoError(t, dir.Put(t.Context(), "ab/x", []byte("x")))
	require.False(t, empty())
	_, err := dir.SetAside(t.Context(), []string{"ab/x"}, time.Now().Add(time.Hour))
	require.NoError(t, err)
	require.False(t, empty(), "what was set aside can be had back")
}

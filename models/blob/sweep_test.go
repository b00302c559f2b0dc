package blob

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

// sweeping holds every service.Sweeper to the comments of the interface.
func sweeping(t *testing.T, open func(t *testing.T) service.Blobs) {
	filled := func(t *testing.T, names ...string) service.Blobs {
		blobs := open(t)
		for _, name := range names {
			require.NoError(t, blobs.Put(t.Context(), name, []byte(name)))
		}
		return blobs
	}
	later, earlier := time.Now().Add(time.Hour), time.Now().Add(-time.Hour)
	t.Run("names are listed in pages", func(t *testing.T) {
		all := []string{"a", "ab/x", "ab/x-1", "ab/x1/y", "ab/x1-z", "ab-c", "ab-c1/x", "ab0/x", "b/a/c", "z"}
		blobs := filled(t, all...)
		whole := listed(t, blobs.Stored, 100)
		require.ElementsMatch(t, all, whole)
		for size := 1; size <= len(all)+1; size++ {
			require.Equal(t, whole, listed(t, blobs.Stored, size), "in pages of %d", size)
		}
		n, err := blobs.SetAside(t.Context(), all, later)
		require.NoError(t, err)
		require.Equal(t, len(all), n)
		require.Empty(t, listed(t, blobs.Stored, 3))
		require.Equal(t, whole, listed(t, blobs.StoredAside, 3), "in the same order")
	})
	t.Run("what was set aside is found, and can be put back", func(t *testing.T) {
		blobs := filled(t, "ab/x", "ab/y")
		requireDone(t, 1)(blobs.SetAside(t.Context(), []string{"ab/x", "ab/none"}, later))
		require.Equal(t, "ab/x", contentOf(t, blobs, "ab/x"))
		requireDone(t, 0)(blobs.SetAside(t.Context(), []string{"ab/x"}, later))
		requireDone(t, 1)(blobs.PutBack(t.Context(), []string{"ab/x", "ab/y", "ab/none"}))
		require.Equal(t, []string{"ab/x", "ab/y"}, listed(t, blobs.Stored, 10))
		require.Empty(t, listed(t, blobs.StoredAside, 10))
		require.Equal(t, "ab/x", contentOf(t, blobs, "ab/x"))
	})
	t.Run("what was put since is left alone", func(t *testing.T) {
		blobs := filled(t, "ab/x")
		requireDone(t, 0)(blobs.SetAside(t.Context(), []string{"ab/x"}, earlier))
		require.Equal(t, []string{"ab/x"}, listed(t, blobs.Stored, 10))
	})
	t.Run("what is put while it is aside is there anew", func(t *testing.T) {
		blobs := filled(t, "ab/x")
		requireDone(t, 1)(blobs.SetAside(t.Context(), []string{"ab/x"}, later))
		require.NoError(t, blobs.Put(t.Context(), "ab/x", []byte("ab/x")))
		requireDone(t, 1)(blobs.Discard(t.Context(), []string{"ab/x"}, later))
		require.Equal(t, "ab/x", contentOf(t, blobs, "ab/x"))
		require.Empty(t, listed(t, blobs.StoredAside, 10))
	})
	t.Run("only what was set aside long ago is discarded", func(t *testing.T) {
		blobs := filled(t, "ab/x", "ab/y")
		requireDone(t, 1)(blobs.SetAside(t.Context(), []string{"ab/x"}, later))
		requireDone(t, 0)(blobs.Discard(t.Context(), []string{"ab/x", "ab/y"}, earlier))
		requireDone(t, 1)(blobs.Discard(t.Context(), []string{"ab/x", "ab/y"}, later))
		_, err := blobs.Open(t.Context(), "ab/x")
		require.Equal(t, review.KindNotFound, review.KindOf(err))
		require.Equal(t, "ab/y", contentOf(t, blobs, "ab/y"), "it was never set aside")
	})
	t.Run("names that lead elsewhere are refused", func(t *testing.T) {
		blobs := filled(t)
		for _, name := range []string{"../x", "/etc/passwd", "ab/../x", ".set-aside/ab", "x.jpg"} {
			_, err := blobs.SetAside(t.Context(), []string{name}, later)
			require.Error(t, err, name)
			_, err = blobs.PutBack(t.Context(), []string{name})
			require.Error(t, err, name)
			_, err = blobs.Discard(t.Context(), []string{name}, later)
			require.Error(t, err, name)
		}
	})
	t.Run("an end is heard", func(t *testing.T) {
		blobs := filled(t, "ab/x")
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		_, err := blobs.Stored(ctx, "", 10)
		require.ErrorIs(t, err, context.Canceled)
		_, err = blobs.SetAside(ctx, []string{"ab/x"}, later)
		require.ErrorIs(t, err, context.Canceled)
		require.Equal(t, []string{"ab/x"}, listed(t, blobs.Stored, 10))
	})
}

// listed are all names, in pages of a size.
func listed(t *testing.T, list func(context.Context, string, int) ([]string, error), size int) []string {
	t.Helper()
	all, after := []string{}, ""
	for {
		names, err := list(t.Context(), after, size)
		require.NoError(t, err)
		require.LessOrEqual(t, len(names), size)
		if len(names) == 0 {
			return all
		}
		all, after = append(all, names...), names[len(names)-1]
		require.Equal(t, len(all), len(slices.Compact(slices.Sorted(slices.Values(all)))), "none twice")
	}
}

func requireDone(t *testing.T, want int) func(int, error) {
	t.Helper()
	return func(n int, err error) {
		t.Helper()
		require.NoError(t, err)
		require.Equal(t, want, n)
	}
}

// TestDirSweepsOnlyItsOwn: rests of writing go, files and folders that somebody else has put there stay, and are not
// looked into.
func TestDirSweepsOnlyItsOwn(t *testing.T) {
	dir, folder := openDir(t)
	long := time.Now().Add(-48 * time.Hour)
	require.NoError(t, dir.Put(t.Context(), "ab/x", []byte("x")))
	foreign := []string{"README.txt", "lost+found/x", ".git/x", "ab/.hidden"}
	rests := []string{"ab/" + temporary + "CUT", temporary + "CUT", "ab/" + temporary + "NOW"}
	for _, name := range slices.Concat(foreign, rests) {
		require.NoError(t, os.MkdirAll(filepath.Dir(filepath.Join(folder, name)), 0o700))
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), []byte("x"), 0o600))
		require.NoError(t, os.Chtimes(filepath.Join(folder, name), long, long))
	}
	now := time.Now()
	require.NoError(t, os.Chtimes(filepath.Join(folder, rests[2]), now, now))
	require.NoError(t, os.Chmod(filepath.Join(folder, "lost+found"), 0))
	t.Cleanup(func() { require.NoError(t, os.Chmod(filepath.Join(folder, "lost+found"), 0o700)) })

	names := listed(t, dir.Stored, 2)
	require.ElementsMatch(t, append(rests, "ab/x"), names)
	requireDone(t, 2)(dir.SetAside(t.Context(), names, time.Now().Add(-24*time.Hour)))
	require.Equal(t, []string{"ab/" + temporary + "NOW", "ab/x"}, listed(t, dir.Stored, 2))
	require.Empty(t, listed(t, dir.StoredAside, 2))
	require.NoError(t, os.Chmod(filepath.Join(folder, "lost+found"), 0o700))
	for _, name := range foreign {
		require.FileExists(t, filepath.Join(folder, name))
	}
}

// TestTimeAsideCountsFromSettingAside, not from the upload, and survives a restart.
func TestTimeAsideCountsFromSettingAside(t *testing.T) {
	dir, folder := openDir(t)
	long := time.Now().Add(-90 * 24 * time.Hour)
	require.NoError(t, dir.Put(t.Context(), "ab/x", []byte("x")))
	require.NoError(t, os.Chtimes(filepath.Join(folder, "ab/x"), long, long))
	requireDone(t, 1)(dir.SetAside(t.Context(), []string{"ab/x"}, time.Now().Add(-24*time.Hour)))
	again, err := OpenDir(folder)
	require.NoError(t, err)
	defer again.Close()
	requireDone(t, 0)(again.Discard(t.Context(), []string{"ab/x"}, time.Now().Add(-30*24*time.Hour)))
	requireDone(t, 1)(again.Discard(t.Context(), []string{"ab/x"}, time.Now().Add(time.Minute)))
	require.NoFileExists(t, filepath.Join(folder, setAside, "ab/x"))
}

// TestPutMarksAsNew: bytes that an upload has just asked for again are not set aside.
func TestPutMarksAsNew(t *testing.T) {
	dir, folder := openDir(t)
	long := time.Now().Add(-48 * time.Hour)
	require.NoError(t, dir.Put(t.Context(), "ab/x", []byte("x")))
	require.NoError(t, os.Chtimes(filepath.Join(folder, "ab/x"), long, long))
	require.NoError(t, dir.Put(t.Context(), "ab/x", []byte("x")))
	requireDone(t, 0)(dir.SetAside(t.Context(), []string{"ab/x"}, time.Now().Add(-24*time.Hour)))
}

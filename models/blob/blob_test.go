package blob

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

var digest = strings.Repeat("ab", 32)

func openDir(t *testing.T) (*Dir, string) {
	t.Helper()
	folder := filepath.Join(t.TempDir(), "photos")
	dir, err := OpenDir(folder)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, dir.Close()) })
	return dir, folder
}

func contentOf(t *testing.T, blobs service.Blobs, name string) string {
	t.Helper()
	body, err := blobs.Open(t.Context(), name)
	require.NoError(t, err)
	data, err := io.ReadAll(body)
	require.NoError(t, err)
	require.NoError(t, body.Close())
	return string(data)
}

// conformance holds every review.Blobs to the comments of the interface.
func conformance(t *testing.T, open func(t *testing.T) service.Blobs) {
	t.Run("what was put can be opened", func(t *testing.T) {
		blobs := open(t)
		data := []byte("original")
		require.NoError(t, blobs.Put(t.Context(), "ab/"+digest+"-original", data))
		require.NoError(t, blobs.Put(t.Context(), "ab/"+digest+"-thumb", nil))
		copy(data, "changed!") // the caller may use its slice again
		require.Equal(t, "original", contentOf(t, blobs, "ab/"+digest+"-original"))
		require.Empty(t, contentOf(t, blobs, "ab/"+digest+"-thumb"))
	})
	t.Run("a name never changes its content", func(t *testing.T) {
		blobs := open(t)
		require.NoError(t, blobs.Put(t.Context(), "ab/first", []byte("first")))
		require.NoError(t, blobs.Put(t.Context(), "ab/first", []byte("second")))
		require.Equal(t, "first", contentOf(t, blobs, "ab/first"))
	})
	t.Run("what is not there is not found", func(t *testing.T) {
		blobs := open(t)
		for _, name := range []string{"ab/" + digest, "ab", "", "../ab", "/etc/passwd", "ab/\x00"} {
			_, err := blobs.Open(t.Context(), name)
			require.Equal(t, review.KindNotFound, review.KindOf(err), "%q", name)
		}
	})
	t.Run("names that lead elsewhere are refused", func(t *testing.T) {
		blobs := open(t)
		for _, name := range []string{"", ".", "..", "../x", "ab/../x", "/x", "ab//x", "ab/", "ab/.x", "ab/x.jpg", `ab\x`, "C:/x",
			"ab/x\x00", "ab/x\n", "AB/x", "ab/é", "-x", strings.Repeat("a", 129), "a/b/c/d/e"} {
			require.Error(t, blobs.Put(t.Context(), name, []byte("x")), "%q", name)
		}
	})
	t.Run("many at once", func(t *testing.T) {
		blobs := open(t)
		data := bytes.Repeat([]byte("0123456789"), 10_000)
		var group sync.WaitGroup
		errs := make([]error, 16)
		for i := range errs {
			group.Go(func() { errs[i] = blobs.Put(context.Background(), "ab/same", data) })
		}
		group.Wait()
		require.NoError(t, errors.Join(errs...))
		require.Equal(t, string(data), contentOf(t, blobs, "ab/same"))
	})
	t.Run("a request that has ended stores nothing", func(t *testing.T) {
		blobs := open(t)
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		require.ErrorIs(t, blobs.Put(ctx, "ab/x", []byte("x")), context.Canceled)
		_, err := blobs.Open(ctx, "ab/x")
		require.ErrorIs(t, err, context.Canceled)
		_, err = blobs.Open(t.Context(), "ab/x")
		require.Equal(t, review.KindNotFound, review.KindOf(err))
	})
}

func TestMem(t *testing.T) {
	conformance(t, func(t *testing.T) service.Blobs { return &Mem{} })
}

func TestDir(t *testing.T) {
	conformance(t, func(t *testing.T) service.Blobs {
		dir, _ := openDir(t)
		return dir
	})
}

func TestDirKeepsBytesWhenOpenedAgain(t *testing.T) {
	dir, folder := openDir(t)
	require.NoError(t, dir.Put(t.Context(), "ab/x", []byte("x")))
	again, err := OpenDir(folder)
	require.NoError(t, err)
	defer again.Close()
	require.Equal(t, "x", contentOf(t, again, "ab/x"))
}

func TestDirLeavesNoTemporaryFiles(t *testing.T) {
	dir, folder := openDir(t)
	require.NoError(t, dir.Put(t.Context(), "ab/x", []byte("x")))
	entries, err := os.ReadDir(filepath.Join(folder, "ab"))
	require.NoError(t, err)
	require.Len(t, entries, 1)
	require.Equal(t, "x", entries[0].Name())
}

func TestDirFollowsNoLinkOut(t *testing.T) {
	dir, folder := openDir(t)
	outside := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(outside, "secret"), []byte("secret"), 0o600))
	require.NoError(t, os.Symlink(outside, filepath.Join(folder, "ab")))
	_, err := dir.Open(t.Context(), "ab/secret")
	require.Error(t, err)
	require.Error(t, dir.Put(t.Context(), "ab/x", []byte("x")))
	require.NoFileExists(t, filepath.Join(outside, "x"))
}

func TestSweep(t *testing.T) {
	dir, folder := openDir(t)
	long := time.Now().Add(-48 * time.Hour)
	put := func(name string, at time.Time) {
		require.NoError(t, dir.Put(t.Context(), name, []byte(name)))
		require.NoError(t, os.Chtimes(filepath.Join(folder, name), at, at))
	}
	put("ab/kept", long)
	put("ab/stray", long)
	put("cd/fresh", time.Now())
	put("cd/wanted-again", long)
	require.NoError(t, dir.Put(t.Context(), "cd/wanted-again", []byte("x")))
	for _, name := range []string{"ab/" + temporary + "CUT", "README.txt"} {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), []byte("x"), 0o600))
		require.NoError(t, os.Chtimes(filepath.Join(folder, name), long, long))
	}

	removed, err := dir.Sweep(t.Context(), func(name string) bool { return name == "ab/kept" }, 24*time.Hour)
	require.NoError(t, err)
	require.Equal(t, 2, removed)
	require.NoFileExists(t, filepath.Join(folder, "ab/stray"))
	require.NoFileExists(t, filepath.Join(folder, "ab/"+temporary+"CUT"))
	for _, name := range []string{"ab/kept", "cd/fresh", "cd/wanted-again", "README.txt"} {
		require.FileExists(t, filepath.Join(folder, name))
	}

	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = dir.Sweep(ctx, func(string) bool { return false }, 0)
	require.ErrorIs(t, err, context.Canceled)
	require.FileExists(t, filepath.Join(folder, "cd/fresh"))
}

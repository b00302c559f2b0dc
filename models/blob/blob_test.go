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

// conformance holds every service.Blobs to the comments of the interface.
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
	t.Run("what is put again takes the place of what differs", func(t *testing.T) {
		blobs := open(t)
		long := strings.Repeat("0123456789", 20_000) // more than is compared at once
		for _, damaged := range []string{"", "first", long[1:], long + "x", long[:len(long)-1], long[:70_000] + "x" + long[70_001:]} {
			require.NoError(t, blobs.Put(t.Context(), "ab/first", []byte(damaged)))
			require.NoError(t, blobs.Put(t.Context(), "ab/first", []byte(long)))
			require.Equal(t, long, contentOf(t, blobs, "ab/first"))
		}
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
	open := func(*testing.T) service.Blobs { return &Mem{} }
	conformance(t, open)
	sweeping(t, open)
}

func TestDir(t *testing.T) {
	open := func(t *testing.T) service.Blobs {
		dir, _ := openDir(t)
		return dir
	}
	conformance(t, open)
	sweeping(t, open)
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

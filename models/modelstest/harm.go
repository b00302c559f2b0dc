package modelstest

import (
	"os"
	"os/exec"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/models/pgserver"
)

// OwnPostgres is a server that a test may harm; a database of it is empty.
func OwnPostgres(t testing.TB) *pgserver.Server {
	t.Helper()
	folder, err := os.MkdirTemp(fastFolder(), "revidit-harmed-")
	require.NoError(t, err)
	require.NoError(t, os.Chmod(folder, 0o755)) // the server runs as somebody else
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(folder)) })
	server, err := pgserver.Start(t.Context(), pgserver.Options{Parent: folder, Settings: pgserver.Throwaway})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, server.Stop()) })
	return server
}

// SmallDisk is a file system of its own in memory, of a size such as "6m". Where none can be mounted the test is skipped.
func SmallDisk(t testing.TB, size string) string {
	t.Helper()
	if runtime.GOOS != "linux" {
		t.Skip("a small disk is mounted on Linux alone")
	}
	folder, err := os.MkdirTemp("", "revidit-small-disk-")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(folder)) })
	require.NoError(t, os.Chmod(folder, 0o755)) // PostgreSQL runs as somebody else
	if said, err := exec.Command("mount", "-t", "tmpfs", "-o", "size="+size, "tmpfs", folder).CombinedOutput(); err != nil {
		t.Skipf("a small disk cannot be mounted here (%v: %s): run the test as root, with the right to mount", err, strings.TrimSpace(string(said)))
	}
	t.Cleanup(func() { require.NoError(t, exec.Command("umount", "-l", folder).Run()) })
	return folder
}

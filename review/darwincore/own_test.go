package darwincore

import (
	"flag"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write testdata/own.zip anew")

// TestOwnArchive: an archive of today is, file by file, what was written on the day when it was kept.
func TestOwnArchive(t *testing.T) {
	archive, _ := archived(t, exact, example())
	if *update {
		require.NoError(t, os.WriteFile("testdata/own.zip", archive, 0o644))
	}
	kept, err := os.ReadFile("testdata/own.zip")
	require.NoError(t, err)
	require.Equal(t, everything(t, kept), everything(t, archive))
}

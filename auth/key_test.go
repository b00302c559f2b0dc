package auth

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestLoadOrCreateKeys(t *testing.T) {
	path := filepath.Join(t.TempDir(), "key")
	made, err := LoadOrCreateKeys(path)
	require.NoError(t, err)
	require.Len(t, made.Keys, 1)
	require.Len(t, made.Keys[0], 32)
	require.Empty(t, made.Club)
	require.Len(t, made.TokenKeys(), 1)
	info, err := os.Stat(path)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	again, err := LoadOrCreateKeys(path)
	require.NoError(t, err)
	require.Equal(t, made.TokenKeys(), again.TokenKeys())
	other, err := LoadOrCreateKeys(filepath.Join(t.TempDir(), "key"))
	require.NoError(t, err)
	require.NotEqual(t, made.Keys, other.Keys)
	require.NoError(t, made.SetClub("a-club"))
	again, err = LoadOrCreateKeys(path)
	require.NoError(t, err)
	require.Equal(t, made.Keys, again.Keys, "the same keys,")
	require.Equal(t, made.TokenKeys(), again.TokenKeys())
	require.Equal(t, "a-club", again.Club, "and whose they are")
	entries, err := os.ReadDir(filepath.Dir(path))
	require.NoError(t, err)
	require.Len(t, entries, 1, "no draft is left")
}

// TestLoadKeysReadsSeveral: the first one is in force.
func TestLoadKeysReadsSeveral(t *testing.T) {
	path := filepath.Join(t.TempDir(), "key")
	newer, older := strings.Repeat("0a", 32), strings.Repeat("0b", 40)
	require.NoError(t, os.WriteFile(path, []byte(newer+"\n"+older+"\nclub a-club\n"), 0o600))
	ring, err := LoadOrCreateKeys(path)
	require.NoError(t, err)
	require.Equal(t, [][]byte{bytes.Repeat([]byte{10}, 32), bytes.Repeat([]byte{11}, 40)}, ring.Keys)
	require.Equal(t, "a-club", ring.Club)
	require.Empty(t, ring.TokenKeys())
	require.NoError(t, ring.HaveTokenKey(time.Now()))
	require.NoError(t, ring.HaveTokenKey(time.Now()), "there is one")
	require.Len(t, ring.TokenKeys(), 1)
	again, err := LoadKeys(path)
	require.NoError(t, err)
	require.Equal(t, ring.TokenKeys(), again.TokenKeys())
	require.Equal(t, ring.Keys, again.Keys)
}

func TestLoadKeyRefuses(t *testing.T) {
	long := "00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff\n"
	for name, c := range map[string]struct {
		text string
		mode os.FileMode
		says string
	}{
		"open to others": {long, 0o644, "can be read by others"},
		"too short":      {long[:62], 0o600, "31 bytes"},
		"no hexadecimal": {"a password that somebody thought of", 0o600, "hexadecimal"},
		"empty":          {"", 0o600, "0 bytes"},
		"a club alone":   {"club a-club\n", 0o600, "0 bytes"},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "key")
			require.NoError(t, os.WriteFile(path, []byte(c.text), c.mode))
			_, err := LoadOrCreateKeys(path)
			require.ErrorContains(t, err, c.says)
		})
	}
	_, err := LoadOrCreateKeys(filepath.Join(t.TempDir(), "no", "such", "folder"))
	require.Error(t, err)
}

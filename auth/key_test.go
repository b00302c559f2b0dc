package auth

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestLoadOrCreateKey(t *testing.T) {
	path := filepath.Join(t.TempDir(), "key")
	made, err := LoadOrCreateKey(path)
	require.NoError(t, err)
	require.Len(t, made, 32)
	info, err := os.Stat(path)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	again, err := LoadOrCreateKey(path)
	require.NoError(t, err)
	require.Equal(t, made, again)
	other, err := LoadOrCreateKey(filepath.Join(t.TempDir(), "key"))
	require.NoError(t, err)
	require.NotEqual(t, made, other)
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
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "key")
			require.NoError(t, os.WriteFile(path, []byte(c.text), c.mode))
			_, err := LoadOrCreateKey(path)
			require.ErrorContains(t, err, c.says)
		})
	}
	_, err := LoadOrCreateKey(filepath.Join(t.TempDir(), "no", "such", "folder"))
	require.Error(t, err)
}

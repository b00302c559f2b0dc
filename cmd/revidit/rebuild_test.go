package main

import (
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models/modelstest"
)

func TestRebuildCommand(t *testing.T) {
	t.Parallel()
	url, data := modelstest.EmptyPostgresURL(t), t.TempDir()
	require.Equal(t, 0, runHere(t, "", "migrate", "--data", data, "--database", url).code)
	for name, where := range map[string][]string{"SQLite": {"--data", newClub(t)}, "PostgreSQL": {"--data", data, "--database", url}} {
		t.Run(name, func(t *testing.T) {
			rebuild := func() ran { return runHere(t, "", append([]string{"rebuild"}, where...)...) }
			done := rebuild()
			require.Equal(t, 0, done.code, done.err)
			require.Regexp(t, `submissions +0 rows as they were`, done.out)
			require.Contains(t, done.out, "Every row is what the events make it.")
			file := filepath.Join(t.TempDir(), "rows.jsonl")
			done = runHere(t, "", append([]string{"dump", file}, where...)...)
			require.Equal(t, 0, done.code, done.err)
			rows, err := os.ReadFile(file)
			require.NoError(t, err)
			require.Contains(t, done.out, fmt.Sprintf("SHA-256 of %s: %x", file, sha256.Sum256(rows)))
			require.Contains(t, runHere(t, "", append([]string{"dump", file}, where...)...).err, "was left as it is")

			p := startProgram(t, append([]string{"serve", "--insecure", "--addr", "127.0.0.1:0"}, where...)...)
			require.Eventually(t, func() bool { return rebuild().code == 1 }, modelstest.Patience, 100*time.Millisecond, "the server says that it is there")
			require.Contains(t, rebuild().err, "Stop it first")
			stop(t, p)
			require.Equal(t, 0, rebuild().code, "a server that was stopped has said so")
		})
	}
}

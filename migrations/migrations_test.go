package migrations

import (
	"io/fs"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func namesIn(t *testing.T, dialect string) []string {
	t.Helper()
	entries, err := fs.ReadDir(files, dialect)
	require.NoError(t, err)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

func TestBothDialectsHaveTheSameMigrations(t *testing.T) {
	names := namesIn(t, SQLite)
	require.NotEmpty(t, names)
	require.Equal(t, names, namesIn(t, Postgres))
	for i, name := range names {
		require.Regexp(t, `^\d{4}_[a-z0-9_]+\.sql$`, name)
		require.Equal(t, i+1, number(t, name), "%s: numbers run from 1 without gaps", name)
	}
}

func number(t *testing.T, name string) int {
	t.Helper()
	n := 0
	for _, digit := range name[:4] {
		n = n*10 + int(digit-'0')
	}
	return n
}

// A migration says why it is there before it says what it does.
func TestMigrationsOpenWithAReasonAndOnlyGoForward(t *testing.T) {
	reason := regexp.MustCompile(`^-- \+goose Up\n-- \S.{40,}`)
	for _, dialect := range []string{SQLite, Postgres} {
		for _, name := range namesIn(t, dialect) {
			text, err := fs.ReadFile(files, dialect+"/"+name)
			require.NoError(t, err)
			require.Regexp(t, reason, string(text), "%s/%s", dialect, name)
			require.NotContains(t, strings.ToLower(string(text)), "+goose down", "%s/%s", dialect, name)
		}
	}
}

func TestUnknownDialect(t *testing.T) {
	require.ErrorContains(t, Apply(t.Context(), nil, "mysql"), `no migrations for "mysql"`)
	require.ErrorContains(t, Check(t.Context(), nil, "mysql"), `no migrations for "mysql"`)
}

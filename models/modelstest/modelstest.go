// Package modelstest helps tests that need a database: it opens empty SQLite files and databases of a real PostgreSQL
// server, which it starts by itself, and holds the suite that an implementation of the stores must pass.
package modelstest

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
)

// Patience is how long a test waits for what must come true at some time. It ends as soon as it does, so that only a fault waits so
// long: a busy machine may keep three processes waiting for more than a minute.
const Patience = 5 * time.Minute

// Main runs the tests of a package and then stops the PostgreSQL server, if one was started:
//
//	func TestMain(m *testing.M) { os.Exit(modelstest.Main(m)) }
func Main(m *testing.M) int {
	shared.mu.Lock()
	shared.willStop = true
	shared.mu.Unlock()
	code := m.Run()
	if err := shared.stop(); err != nil {
		os.Stderr.WriteString("stop the test database server: " + err.Error() + "\n")
		return 1
	}
	return code
}

// SQLite returns an empty database of the newest schema in a file of its own, closed and removed after the test.
func SQLite(t testing.TB) *models.DB {
	t.Helper()
	template, err := sqliteTemplate()
	require.NoError(t, err)
	path := SQLitePath(t)
	require.NoError(t, os.WriteFile(path, template, 0o600))
	return opened(t, path)
}

// sqliteTemplate is a migrated file, made once and copied for each test: migrating takes most of the time of a short one.
var sqliteTemplate = sync.OnceValues(func() (file []byte, err error) {
	folder, err := os.MkdirTemp(fastFolder(), "revidit-sqlite-")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	path, ctx := filepath.Join(folder, "template.db"), context.Background()
	db, err := models.Open(ctx, path)
	if err != nil {
		return nil, err
	}
	if err := errors.Join(db.Migrate(ctx), db.Close()); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
})

// SQLitePath returns where a test may make an SQLite file.
func SQLitePath(t testing.TB) string {
	t.Helper()
	folder, err := os.MkdirTemp(fastFolder(), "revidit-sqlite-")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(folder)) })
	return filepath.Join(folder, "revidit.db")
}

// Postgres returns an empty database of the newest schema on a PostgreSQL server, dropped after the test. The server is
// the one that REVIDIT_TEST_POSTGRES_URL names, with a user who may create databases, or else one that is started from
// the machine's PostgreSQL programs, one for all tests of a package. Without either the test fails.
func Postgres(t testing.TB) *models.DB {
	t.Helper()
	return opened(t, PostgresURL(t))
}

// PostgresURL is Postgres, but returns the URL of the database.
func PostgresURL(t testing.TB) string {
	t.Helper()
	return databaseURL(t, true)
}

// EmptyPostgresURL returns the URL of a database without any schema.
func EmptyPostgresURL(t testing.TB) string {
	t.Helper()
	return databaseURL(t, false)
}

func databaseURL(t testing.TB, migrated bool) string {
	t.Helper()
	url, drop, err := shared.create(t.Context(), migrated)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, drop(context.Background())) })
	return url
}

func opened(t testing.TB, url string) *models.DB {
	t.Helper()
	db, err := models.Open(t.Context(), url)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, db.Close()) })
	return db
}

// fastFolder is a folder in memory where the machine has one, because tests need no data after a power cut: on disk the
// same tests take several times as long.
func fastFolder() string {
	const memory = "/dev/shm"
	probe, err := os.MkdirTemp(memory, "revidit-probe-")
	if err != nil {
		return os.TempDir()
	}
	if err := os.Remove(probe); err != nil {
		return os.TempDir()
	}
	return memory
}

package models_test

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/service"
)

// soon is how long anybody may be kept waiting by a database that fails: the task's own bound.
const soon = 10 * time.Second

// requireFault requires that an error tells of a fault, soon enough.
func requireFault(t *testing.T, kind review.Kind, words string, do func() error) {
	t.Helper()
	began := time.Now()
	err := do()
	require.Less(t, time.Since(began), soon)
	require.Equal(t, kind, review.KindOf(err), "%v", err)
	var told *review.Error
	require.ErrorAs(t, err, &told)
	require.Contains(t, told.Message, words)
	require.Contains(t, told.Message, "What was stored before is safe")
}

func read(ctx context.Context, db *models.DB) func() error {
	return func() error {
		_, err := db.Events(ctx, review.SpecimenStream("a"))
		return err
	}
}

func write(ctx context.Context, db *models.DB) func() error {
	return func() error { return db.Commit(ctx, oneEvent()) }
}

func TestPostgresIsHung(t *testing.T) {
	server := modelstest.OwnPostgres(t)
	db := migrated(t, server.URL)
	require.NoError(t, read(t.Context(), db)())
	require.NoError(t, server.Signal(syscall.SIGSTOP))
	resumed := false
	defer func() {
		if !resumed {
			require.NoError(t, server.Signal(syscall.SIGCONT))
		}
	}()
	requireFault(t, review.KindDown, "does not answer", read(t.Context(), db))
	requireFault(t, review.KindDown, "does not answer", write(t.Context(), db))
	err := inTime(db.Answers)
	require.Equal(t, review.KindDown, review.KindOf(err), "%v", err)

	opening := time.Now()
	_, err = models.Open(t.Context(), server.URL)
	require.Error(t, err, "a connection that is not answered")
	require.Less(t, time.Since(opening), soon)

	require.NoError(t, server.Signal(syscall.SIGCONT))
	resumed = true
	require.Eventually(t, func() bool { return db.Answers(t.Context()) == nil }, modelstest.Patience, 50*time.Millisecond)
	require.NoError(t, write(t.Context(), db)())
}

// inTime is what is asked when the service is watched over; whoever asks has a second.
func inTime(answers func(context.Context) error) error {
	ctx, cancel := context.WithTimeout(context.Background(), 7*time.Second)
	defer cancel()
	return answers(ctx)
}

func TestPostgresIsKilled(t *testing.T) {
	server := modelstest.OwnPostgres(t)
	db := migrated(t, server.URL)
	require.NoError(t, write(t.Context(), db)())
	require.NoError(t, server.Signal(syscall.SIGKILL))
	time.Sleep(200 * time.Millisecond) // until the kernel has ended it
	requireFault(t, review.KindDown, "does not answer", read(t.Context(), db))
	requireFault(t, review.KindDown, "does not answer", write(t.Context(), db))
	require.Error(t, db.Answers(t.Context()))
}

// TestPostgresIsBusy: somebody else keeps a table, as a tool of the keeper might.
func TestPostgresIsBusy(t *testing.T) {
	db := modelstest.Postgres(t)
	other, err := db.Raw().BeginTx(t.Context(), nil)
	require.NoError(t, err)
	_, err = other.ExecContext(t.Context(), "LOCK TABLE events")
	require.NoError(t, err)
	requireFault(t, review.KindDown, "does not answer", read(t.Context(), db))
	requireFault(t, review.KindDown, "does not answer", write(t.Context(), db))

	waiting := make(chan error, 1)
	go func() { waiting <- db.Commit(service.Unhurried(context.WithoutCancel(t.Context())), oneEvent()) }()
	select {
	case err := <-waiting:
		require.Fail(t, "a job is patient", "%v", err)
	case <-time.After(7 * time.Second):
	}
	require.NoError(t, other.Rollback())
	require.NoError(t, <-waiting)
}

func TestSQLiteIsLocked(t *testing.T) {
	path := modelstest.SQLitePath(t)
	db := migrated(t, path)
	other := another(t, path)
	_, err := other.ExecContext(t.Context(), "BEGIN IMMEDIATE")
	require.NoError(t, err)
	require.NoError(t, read(t.Context(), db)())
	requireFault(t, review.KindDown, "kept busy by something else", write(t.Context(), db))
	_, err = other.ExecContext(t.Context(), "ROLLBACK")
	require.NoError(t, err)
	require.NoError(t, write(t.Context(), db)())
}

// another is a connection of another program to an SQLite file.
func another(t *testing.T, path string) *sql.Conn {
	t.Helper()
	pool, err := sql.Open("sqlite", path)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, pool.Close()) })
	connection, err := pool.Conn(t.Context())
	require.NoError(t, err)
	t.Cleanup(func() { connection.Close() })
	return connection
}

func TestSQLiteFileIsGone(t *testing.T) {
	for name, harm := range map[string]func(t *testing.T, path string){
		"removed": func(t *testing.T, path string) { require.NoError(t, os.Remove(path)) },
		"moved":   func(t *testing.T, path string) { require.NoError(t, os.Rename(path, path+".away")) },
		"replaced": func(t *testing.T, path string) {
			require.NoError(t, os.WriteFile(path+".new", nil, 0o600))
			require.NoError(t, os.Rename(path+".new", path))
		},
	} {
		t.Run(name, func(t *testing.T) {
			path := modelstest.SQLitePath(t)
			db := migrated(t, path)
			require.NoError(t, write(t.Context(), db)())
			harm(t, path)
			requireFault(t, review.KindDown, "removed or replaced", read(t.Context(), db))
			requireFault(t, review.KindDown, "removed or replaced", write(t.Context(), db))
			require.Equal(t, review.KindDown, review.KindOf(db.Answers(t.Context())))
		})
	}
	t.Run("the log is removed", func(t *testing.T) {
		path := modelstest.SQLitePath(t)
		db := migrated(t, path)
		require.NoError(t, os.Remove(path+"-wal"))
		requireFault(t, review.KindDown, "not certain", write(t.Context(), db))
	})
}

// fillUp writes more and more until the database refuses, and requires that it has said that the disk is full.
func fillUp(t *testing.T, db *models.DB) {
	t.Helper()
	for i := range 2000 {
		err := db.SaveUpload(t.Context(), review.Upload{Photo: review.Photo{ID: strings.Repeat("x", 100_000) + string(rune('a'+i%26)) + time.Now().String(),
			SHA256: sha(i), Type: "image/jpeg", Width: 1, Height: 1, By: "ada", At: time.Now()}})
		if err == nil {
			continue
		}
		requireFault(t, review.KindFull, "disk of the database is full", func() error { return err })
		return
	}
	require.Fail(t, "nothing was refused")
}

func TestSQLiteDiskIsFull(t *testing.T) {
	path := filepath.Join(modelstest.SmallDisk(t, "6m"), "revidit.sqlite")
	db := migrated(t, path)
	fillUp(t, db)
	require.NoError(t, read(t.Context(), db)(), "what is there can be read")
	require.Equal(t, review.KindFull, review.KindOf(write(t.Context(), db)()))
}

func TestPostgresDiskIsFull(t *testing.T) {
	server := modelstest.OwnPostgres(t)
	disk := modelstest.SmallDisk(t, "4m")
	require.NoError(t, os.Chmod(disk, 0o777))
	db := migrated(t, server.URL)
	folder := filepath.Join(disk, "table")
	require.NoError(t, os.Mkdir(folder, 0o700))
	if os.Getuid() == 0 {
		info, err := os.Stat(server.Data())
		require.NoError(t, err)
		owner := info.Sys().(*syscall.Stat_t)
		require.NoError(t, os.Chown(folder, int(owner.Uid), int(owner.Gid)))
	}
	for _, statement := range []string{"CREATE TABLESPACE small LOCATION '" + folder + "'", "ALTER TABLE uploads SET TABLESPACE small",
		"ALTER TABLE uploads ALTER COLUMN id SET STORAGE EXTERNAL", "ALTER TABLE uploads DROP CONSTRAINT uploads_pkey CASCADE"} {
		_, err := db.Raw().ExecContext(t.Context(), statement)
		require.NoError(t, err, statement)
	}
	fillUp(t, db)
	require.NoError(t, read(t.Context(), db)())
	require.NoError(t, write(t.Context(), db)(), "what stands elsewhere can be written")
}

func migrated(t *testing.T, url string) *models.DB {
	t.Helper()
	db, err := models.Open(t.Context(), url)
	require.NoError(t, err)
	t.Cleanup(func() { _ = db.Close() }) // the database may be gone
	require.NoError(t, db.Migrate(t.Context()))
	return db
}

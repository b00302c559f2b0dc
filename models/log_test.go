package models_test

import (
	"bytes"
	"context"
	"os"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/service"
)

// longestLog is the largest size of SQLite's log while something is done.
func longestLog(t *testing.T, path string, do func()) (most int64) {
	t.Helper()
	over, done := make(chan bool), make(chan bool)
	go func() {
		defer close(done)
		for {
			if info, err := os.Stat(path + "-wal"); err == nil {
				most = max(most, info.Size())
			}
			select {
			case <-over:
				return
			case <-time.After(20 * time.Millisecond):
			}
		}
	}()
	do()
	close(over)
	<-done
	return most
}

// readInTurns reads so that each reader ends only after the next has begun.
func readInTurns(ctx context.Context, db *models.DB) {
	var group sync.WaitGroup
	former := func() {}
	for ctx.Err() == nil {
		begun, end := make(chan bool), make(chan bool)
		group.Go(func() {
			// Only the end of the test ends it with an error.
			_ = db.Reading(service.Unhurried(ctx), func() { close(begun); <-end })
		})
		select {
		case <-begun:
		case <-ctx.Done():
		}
		former()
		former = func() { close(end) }
		time.Sleep(20 * time.Millisecond)
	}
	former()
	group.Wait()
}

// written stores some megabytes, in a table that nothing looks through.
func written(t *testing.T, db *models.DB, megabytes int) {
	t.Helper()
	_, err := db.Raw().ExecContext(t.Context(), "CREATE TABLE IF NOT EXISTS scratch (id INTEGER PRIMARY KEY, body BLOB NOT NULL)")
	require.NoError(t, err)
	for i := range megabytes {
		body := bytes.Repeat([]byte{byte(i)}, 1<<20) // what is there already SQLite does not write again
		_, err := db.Raw().ExecContext(t.Context(), "INSERT OR REPLACE INTO scratch (id, body) VALUES (?, ?)", i%8, body)
		require.NoError(t, err)
		time.Sleep(10 * time.Millisecond)
	}
}

// TestReadersAtOnceLetTheLogBeCut: under readers who take turns without a gap SQLite never begins its log anew by itself
// (https://www.sqlite.org/wal.html, "Avoiding Excessively Large WAL Files": checkpoint starvation).
func TestReadersAtOnceLetTheLogBeCut(t *testing.T) {
	const megabytes = 120
	left, tended := int64(0), int64(0)
	for range 3 { // on a busy machine readers may leave a gap in spite of themselves
		left, tended = logUnderReaders(t, megabytes, false), logUnderReaders(t, megabytes, true)
		if left > megabytes<<20*3/4 && tended < left/2 {
			break
		}
	}
	t.Logf("of %d MB written under readers without a gap the log was at most %d MB long, and without its tender %d MB", megabytes, tended>>20, left>>20)
	require.Greater(t, left, int64(megabytes)<<20*3/4, "the readers leave no gap")
	require.Less(t, tended, left/2)
}

// logUnderReaders is the largest size of the log while some megabytes are written.
func logUnderReaders(t *testing.T, megabytes int, tended bool) int64 {
	t.Helper()
	path := modelstest.SQLitePath(t)
	db := migrated(t, path)
	if !tended {
		require.NoError(t, db.LeaveLog())
	}
	ctx, stop := context.WithCancel(t.Context())
	var group sync.WaitGroup
	group.Go(func() { readInTurns(ctx, db) })
	most := longestLog(t, path, func() { written(t, db, megabytes) })
	stop()
	group.Wait()
	return most
}

// TestALongReaderEnds: whoever waits for an answer reads for seconds at most, and another program's long reader lets go of
// the log when it ends.
func TestALongReaderEnds(t *testing.T) {
	t.Parallel()
	path := modelstest.SQLitePath(t)
	db := migrated(t, path)
	began := time.Now()
	err := db.Reading(t.Context(), func() { time.Sleep(7 * time.Second) })
	require.Error(t, err)
	require.Equal(t, review.KindDown, review.KindOf(err), "%v", err)
	require.Less(t, time.Since(began), soon)

	other := another(t, path)
	_, err = other.ExecContext(t.Context(), "BEGIN")
	require.NoError(t, err)
	var n int
	require.NoError(t, other.QueryRowContext(t.Context(), "SELECT count(*) FROM events").Scan(&n))
	most := longestLog(t, path, func() { written(t, db, 60) })
	require.Greater(t, most, int64(40)<<20, "it is read from")
	_, err = other.ExecContext(t.Context(), "ROLLBACK")
	require.NoError(t, err)
	require.Eventually(t, func() bool {
		info, err := os.Stat(path + "-wal")
		return err == nil && info.Size() <= 16<<20
	}, 40*time.Second, 100*time.Millisecond, "a look every half a minute at least")
}

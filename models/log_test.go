package models_test

import (
	"context"
	"fmt"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
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

// written stores some megabytes.
func written(t *testing.T, db *models.DB, megabytes int) {
	t.Helper()
	for i := range megabytes {
		found := []review.Found{{Kind: review.FoundPreview, Group: "g", Key: fmt.Sprint(i % 8), TouchedAt: time.Now(),
			Partial: []byte(`"` + strings.Repeat("x", 1<<20) + `"`)}}
		require.NoError(t, db.Commit(t.Context(), review.Batch{Found: found}))
		time.Sleep(10 * time.Millisecond)
	}
}

// TestReadersAtOnceLetTheLogBeCut: under readers who take turns without a gap SQLite never begins its log anew by itself
// (https://www.sqlite.org/wal.html, "Avoiding Excessively Large WAL Files": checkpoint starvation).
func TestReadersAtOnceLetTheLogBeCut(t *testing.T) {
	const megabytes = 240
	path := modelstest.SQLitePath(t)
	db := migrated(t, path)
	ctx, stop := context.WithCancel(t.Context())
	var group sync.WaitGroup
	for reader := range 4 {
		group.Go(func() {
			time.Sleep(time.Duration(reader) * 10 * time.Millisecond)
			for ctx.Err() == nil {
				_ = db.Reading(ctx, func() { time.Sleep(40 * time.Millisecond) }) // until the test ends
			}
		})
	}
	most := longestLog(t, path, func() { written(t, db, megabytes) })
	stop()
	group.Wait()
	t.Logf("of %d MB written under readers without a gap the log was at most %d MB long", megabytes, most>>20)
	require.Less(t, most, int64(megabytes)<<20/2)
	require.Eventually(t, func() bool {
		info, err := os.Stat(path + "-wal")
		return err == nil && info.Size() <= 16<<20
	}, 10*time.Second, 50*time.Millisecond)
}

// TestALongReaderEnds: whoever waits for an answer reads for seconds at most, and another program's long reader lets go of
// the log when it ends.
func TestALongReaderEnds(t *testing.T) {
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

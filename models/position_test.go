package models_test

import (
	"context"
	"database/sql"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/exec"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
)

const insertEvent = `INSERT INTO events (stream, seq, at, actor, role, kind, data)
	VALUES ('specimen/%s', %d, '2026-05-14T12:00:00.000000Z', 'ada', 'member', 'specimen-registered', '{"id":"%[1]s"}')`

// openAct is a transaction that has stored an event and is still under way.
func openAct(t *testing.T, db *models.DB, id string, seq int) *sql.Tx {
	t.Helper()
	act, err := db.Raw().BeginTx(t.Context(), nil)
	require.NoError(t, err)
	t.Cleanup(func() { _ = act.Rollback() }) // most have ended by then
	storeIn(t, act, id, seq)
	return act
}

func storeIn(t *testing.T, act *sql.Tx, id string, seq int) {
	t.Helper()
	_, err := act.ExecContext(t.Context(), fmt.Sprintf(insertEvent, id, seq))
	require.NoError(t, err)
}

// register stores the first event of a specimen.
func register(t *testing.T, db *models.DB, id string) {
	t.Helper()
	batch := oneEvent()
	batch.Events[0].Stream, batch.Events[0].Change = review.SpecimenStream(id), &review.SpecimenRegistered{ID: id}
	require.NoError(t, db.Commit(t.Context(), batch))
}

// numberAll may have to wait: PostgreSQL counts transactions under way in all databases of a server, those of other tests
// as well.
func numberAll(t *testing.T, db *models.DB) {
	t.Helper()
	require.Eventually(t, func() bool {
		left, err := db.NumberEvents(t.Context())
		return err == nil && !left
	}, modelstest.Patience, 5*time.Millisecond)
}

// requireOrder numbers until everything has its position.
func requireOrder(t *testing.T, db *models.DB, want ...string) {
	t.Helper()
	numberAll(t, db)
	require.Equal(t, want, orderSoFar(t, db))
}

// requireWaits requires that what has no position yet cannot have one now.
func requireWaits(t *testing.T, db *models.DB) {
	t.Helper()
	left, err := db.NumberEvents(t.Context())
	require.NoError(t, err)
	require.True(t, left)
}

// orderSoFar is all that has a position.
func orderSoFar(t *testing.T, db *models.DB) []string {
	t.Helper()
	events, err := db.EventsAfter(t.Context(), 0, 100_000)
	require.NoError(t, err)
	names := []string{}
	for i, e := range events {
		require.Equal(t, int64(i+1), e.Position)
		names = append(names, fmt.Sprint(e.Stream, " ", e.Seq))
	}
	return names
}

// A transaction that began to write before others and is stored after them: they wait for it, and it comes before them.
// A sequence would have put it behind what others have read by then, or have left a gap for it.
func TestALateCommitComesBeforeWhatHasWaitedForIt(t *testing.T) {
	t.Parallel()
	for ending, want := range map[string][]string{
		"commit":   {"specimen/before 1", "specimen/late 1", "specimen/a 1", "specimen/b 1"},
		"rollback": {"specimen/before 1", "specimen/a 1", "specimen/b 1"},
	} {
		t.Run(ending, func(t *testing.T) {
			db := modelstest.Postgres(t)
			register(t, db, "before")
			requireOrder(t, db, "specimen/before 1")
			late := openAct(t, db, "late", 1)
			register(t, db, "a")
			requireWaits(t, db)
			register(t, db, "b")
			requireWaits(t, db)
			require.Equal(t, []string{"specimen/before 1"}, orderSoFar(t, db))
			history, err := db.History(t.Context(), "specimen/a", "specimen/before", "specimen/b")
			require.NoError(t, err)
			require.Len(t, history, 3, "what waits is shown all the same")
			require.Equal(t, "specimen/before", history[0].Stream)
			if ending == "commit" {
				require.NoError(t, late.Commit())
			} else {
				require.NoError(t, late.Rollback())
			}
			requireOrder(t, db, want...)
			register(t, db, "c")
			requireOrder(t, db, append(want, "specimen/c 1")...)
		})
	}
}

// A transaction that began to write first goes on with a stream that another one has gone on with meanwhile: its event
// waits for that one's, and comes after it.
func TestAStreamStaysInOrderWhateverBeganFirst(t *testing.T) {
	t.Parallel()
	db := modelstest.Postgres(t)
	first := openAct(t, db, "x", 1)
	between := openAct(t, db, "z", 1)
	last := openAct(t, db, "y", 1)
	require.NoError(t, last.Commit())
	storeIn(t, first, "y", 2)
	require.NoError(t, first.Commit())
	require.Eventually(t, func() bool {
		_, err := db.NumberEvents(t.Context())
		return err == nil && len(orderSoFar(t, db)) > 0
	}, modelstest.Patience, 5*time.Millisecond)
	require.Equal(t, []string{"specimen/x 1"}, orderSoFar(t, db))
	require.NoError(t, between.Commit())
	requireOrder(t, db, "specimen/x 1", "specimen/z 1", "specimen/y 1", "specimen/y 2")
}

// A backup that was restored on another server: the transactions in it are none of that server's.
func TestWhatWaitedInABackupIsNumbered(t *testing.T) {
	t.Parallel()
	db := modelstest.Postgres(t)
	register(t, db, "a")
	_, err := db.Raw().ExecContext(t.Context(), "UPDATE event_outbox SET xact = '9000000000000000000'")
	require.NoError(t, err)
	act := openAct(t, db, "a", 2)
	require.NoError(t, act.Commit())
	register(t, db, "b")
	requireOrder(t, db, "specimen/a 1", "specimen/a 2", "specimen/b 1")
}

func TestPositionsAreNeverChanged(t *testing.T) {
	t.Parallel()
	statements := map[string][]string{
		"SQLite": {
			"INSERT OR REPLACE INTO event_positions VALUES (1, 'specimen/b', 1)",
			"UPDATE OR REPLACE event_positions SET stream = 'specimen/b'",
		},
		"Postgres": {"TRUNCATE event_positions", "INSERT INTO event_positions VALUES (2, 'specimen/b', 2)"},
	}
	everywhere := []string{
		"UPDATE event_positions SET position = position + 1",
		"DELETE FROM event_positions",
		"INSERT INTO event_positions VALUES (3, 'specimen/b', 1)",
	}
	for name, open := range databases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			db := open(t)
			register(t, db, "a")
			requireOrder(t, db, "specimen/a 1")
			for _, statement := range append(everywhere, statements[name]...) {
				_, err := db.Raw().ExecContext(t.Context(), statement)
				require.ErrorContains(t, err, "positions of events are", "%s", statement)
			}
			requireOrder(t, db, "specimen/a 1")
		})
	}
}

// Events that somebody stored past the triggers have no position; Rebuild lets them have one.
func TestRebuildPlacesWhatHasLostItsPosition(t *testing.T) {
	t.Parallel()
	past := map[string][2]string{ // before and after
		"SQLite":   {"DROP TRIGGER events_take_position", "SELECT 1"},
		"Postgres": {"ALTER TABLE events DISABLE TRIGGER events_wait", "ALTER TABLE events ENABLE TRIGGER events_wait"},
	}
	for name, open := range databases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			db := open(t)
			register(t, db, "b")
			for i, statement := range past[name] {
				_, err := db.Raw().ExecContext(t.Context(), statement)
				require.NoError(t, err)
				if i == 0 {
					register(t, db, "a")
				}
			}
			requireOrder(t, db, "specimen/b 1")
			for range 2 {
				require.NoError(t, db.Rebuild(t.Context()))
				requireOrder(t, db, "specimen/b 1", "specimen/a 1")
			}
		})
	}
}

// What was stored before there were positions is numbered by its time, and a stream stays in order where a clock was set
// back.
func TestEventsOfATimeWithoutPositions(t *testing.T) {
	t.Parallel()
	stored := func(stream string, seq int, hour string) string {
		return fmt.Sprintf("INSERT INTO events VALUES ('%s', %d, '2026-05-14T%s:00:00.000000Z', 'ada', 'member', 'specimen-registered', '{}')", stream, seq, hour)
	}
	rows := []string{stored("specimen/b", 1, "12"), stored("specimen/b", 2, "10"), stored("specimen/a", 1, "12"), stored("specimen/c", 1, "11"),
		stored("specimen/c", 2, "13")}
	for name, c := range formers {
		t.Run(name, func(t *testing.T) {
			db := c.upgraded(t, 17, rows)
			want := []string{"specimen/c 1", "specimen/a 1", "specimen/b 1", "specimen/b 2", "specimen/c 2"}
			requireOrder(t, db, want...)
			register(t, db, "d")
			requireOrder(t, db, append(want, "specimen/d 1")...)
		})
	}
}

// sequencerVariable makes the test program number the events of the database that it names, instead of tests.
const sequencerVariable = "REVIDIT_TEST_SEQUENCER"

func runSequencer(url string) error {
	ctx, cancel := context.WithCancel(context.Background())
	go func() {
		_, _ = io.Copy(io.Discard, os.Stdin) // an end, whatever the reason
		cancel()
	}()
	db, err := models.Open(ctx, url)
	if err != nil {
		return err
	}
	defer db.Close()
	db.RunSequencer(ctx, slog.New(slog.NewTextHandler(os.Stderr, nil)))
	return nil
}

// Processes that number events are killed while they do so. The next one goes on, and the order is whole.
func TestAKilledSequencerIsFollowed(t *testing.T) {
	t.Parallel()
	url := modelstest.PostgresURL(t)
	db, err := models.Open(t.Context(), url)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, db.Close()) })
	stored, read := 0, []string{}
	for round := range 4 {
		process := exec.Command(os.Args[0])
		process.Env, process.Stderr = append(os.Environ(), sequencerVariable+"="+url), os.Stderr
		input, err := process.StdinPipe()
		require.NoError(t, err)
		require.NoError(t, process.Start())
		for numbered := 0; numbered < 20; { // it numbers while more is stored
			register(t, db, fmt.Sprint("s-", stored))
			stored++
			require.NoError(t, db.Raw().QueryRowContext(t.Context(), "SELECT count(*) - $1 FROM event_positions", len(read)).Scan(&numbered))
		}
		require.NoError(t, process.Process.Kill())
		require.Error(t, process.Wait(), "it was killed")
		runtime.KeepAlive(input) // its end would have stopped the process gently
		now := orderSoFar(t, db)
		require.Equal(t, read, now[:len(read)], "round %d", round)
		read = now
	}
	numberAll(t, db) // the lock of the killed one goes when the server notices
	last := orderSoFar(t, db)
	require.Len(t, last, stored)
	require.Equal(t, read, last[:len(read)])
	seen := map[string]bool{}
	for _, name := range last {
		require.False(t, seen[name], name)
		seen[name] = true
	}
}

// The sequencer numbers by itself what is stored, by this process and by others, and ends when it is told.
func TestTheSequencerNumbersByItself(t *testing.T) {
	t.Parallel()
	db := modelstest.Postgres(t)
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		db.RunSequencer(ctx, slog.New(slog.DiscardHandler))
	}()
	register(t, db, "a")
	require.Eventually(t, func() bool { return len(orderSoFar(t, db)) == 1 }, modelstest.Patience, 10*time.Millisecond)
	act := openAct(t, db, "b", 1) // past Commit, as by another process: nobody wakes the sequencer
	require.NoError(t, act.Commit())
	require.Eventually(t, func() bool { return len(orderSoFar(t, db)) == 2 }, modelstest.Patience, 10*time.Millisecond)
	stop()
	<-ended
}

package models

import (
	"context"
	"database/sql"
	"fmt"
	"log/slog"
	"time"

	"gorm.io/gorm"

	"revidit/migrations"
)

// On PostgreSQL events are stored by many transactions at once and get their positions afterwards. Each waits in
// event_outbox with the transaction that has stored it (xid8). Transactions are numbered as they begin to write, and of
// those below the oldest one that is still under way (pg_snapshot_xmin) everything is there: so what waits below it can be
// numbered by transaction, stream and seq. Which events are numbered together makes no difference to that order. A
// transaction that takes long, in whatever database of the server, keeps the events of later ones waiting, so none of ours
// should.

const (
	// numberingLock is of the one process that numbers.
	numberingLock = 7306081526
	// numberedAtOnce bounds a round, and with it how long its transaction takes.
	numberedAtOnce = 5_000
	// While something waits a round follows a round after a pause, which gets longer where nothing can be numbered.
	shortestPause, longestPause = 20 * time.Millisecond, time.Second
)

// sequencer numbers events in the background, see DB.RunSequencer.
type sequencer struct{ called chan struct{} }

func newSequencer() sequencer { return sequencer{make(chan struct{}, 1)} }

// wake makes it look now; call it after the commit.
func (s sequencer) wake() {
	select {
	case s.called <- struct{}{}:
	default: // it has not heard the last call yet
	}
}

// RunSequencer gives events their positions until ctx ends. Any number of processes may do so, one at a time does; one
// that is killed loses nothing. It returns no error: what goes wrong is told to log and tried again. On SQLite there is
// nothing to do, since events are stored with their positions.
func (db *DB) RunSequencer(ctx context.Context, log *slog.Logger) {
	if db.dialect != migrations.Postgres {
		return
	}
	pause, failing := shortestPause, false
	for ctx.Err() == nil {
		numbered, left, err := db.numberWaiting(ctx)
		if err != nil && !failing && ctx.Err() == nil { // once, not every second while the database is away
			log.Error("numbering events; it is tried again", "error", err)
		}
		failing = err != nil
		switch {
		case failing:
			pause = longestPause
		case numbered > 0:
			pause = shortestPause
		default:
			pause = min(2*pause, longestPause)
		}
		if !left && !failing {
			db.sequencer.wait(ctx)
			pause = shortestPause
		}
		select {
		case <-ctx.Done():
		case <-time.After(pause):
		}
	}
}

// wait waits for a call, or for some time: other processes store events, too.
func (s sequencer) wait(ctx context.Context) {
	select {
	case <-ctx.Done():
	case <-s.called:
	case <-time.After(longestPause):
	}
}

// NumberEvents gives a position to every event that can have one now, and says whether any is left: stored after a
// transaction had begun that is still under way, be it in another database of the server, or about to be numbered by another
// process.
func (db *DB) NumberEvents(ctx context.Context) (left bool, err error) {
	if db.dialect != migrations.Postgres {
		return false, nil
	}
	for {
		numbered, left, err := db.numberWaiting(ctx)
		if err != nil || !left || numbered < numberedAtOnce {
			return left, err
		}
	}
}

// numberWaiting does one round and says whether something is left to be numbered. Most often nothing waits, which is told
// without a transaction.
func (db *DB) numberWaiting(ctx context.Context) (numbered int, left bool, err error) {
	if left, err = db.somethingWaits(ctx); err != nil || !left {
		return 0, false, err
	}
	if numbered, err = db.numberRound(ctx); err != nil {
		return 0, true, err
	}
	left, err = db.somethingWaits(ctx)
	return numbered, left, err
}

func (db *DB) somethingWaits(ctx context.Context) (waits bool, err error) {
	if err := db.read(ctx).Raw("SELECT EXISTS (SELECT 1 FROM event_outbox)").Scan(&waits).Error; err != nil {
		return false, fmt.Errorf("look whether events wait for a position: %w", err)
	}
	return waits, nil
}

// numberingSQL numbers what waits below the oldest transaction under way. An event comes after those of its stream, even
// if its transaction has begun before theirs: it counts as of the latest transaction until then, and waits with it. What
// is seen here and yet is of a transaction that has not begun was restored from a backup of another server, and is as old
// as can be.
const numberingSQL = `WITH now AS MATERIALIZED (
	SELECT pg_snapshot_xmin(s)::text::bigint AS oldest, pg_snapshot_xmax(s)::text::bigint AS next FROM pg_current_snapshot() AS s
), waiting AS (
	SELECT o.xact, o.stream, o.seq,
		max(CASE WHEN o.xact::text::bigint < now.next THEN o.xact::text::bigint ELSE 0 END) OVER (PARTITION BY o.stream ORDER BY o.seq) AS place
	FROM event_outbox AS o CROSS JOIN now
), chosen AS MATERIALIZED (
	SELECT w.* FROM waiting AS w CROSS JOIN now WHERE w.place < now.oldest ORDER BY w.place, w.stream, w.seq LIMIT ?
), taken AS (
	DELETE FROM event_outbox AS o USING chosen AS c WHERE o.xact = c.xact AND o.stream = c.stream AND o.seq = c.seq
	RETURNING c.place, c.stream, c.seq
)
INSERT INTO event_positions (position, stream, seq)
SELECT (SELECT COALESCE(max(position), 0) FROM event_positions) + row_number() OVER (ORDER BY place, stream, seq), stream, seq
FROM taken ORDER BY 1`

// numberRound is one transaction. The lock is taken by a statement before the one that numbers, so that the latter sees
// what whoever had it has left. It need not be on the disk when the round ends: after a crash the same events
// get the same positions again.
func (db *DB) numberRound(ctx context.Context) (numbered int, err error) {
	err = db.gorm.WithContext(ctx).Transaction(func(tx *gorm.DB) error {
		var begun struct {
			Own   bool
			Quick string
		}
		const begin = "SELECT pg_try_advisory_xact_lock(?) AS own, set_config('synchronous_commit', 'off', true) AS quick"
		if err := tx.Raw(begin, numberingLock).Scan(&begun).Error; err != nil || !begun.Own {
			return err
		}
		done := tx.Exec(numberingSQL, numberedAtOnce)
		numbered = int(done.RowsAffected)
		return done.Error
	}, &sql.TxOptions{Isolation: sql.LevelReadCommitted})
	if err != nil {
		return 0, fmt.Errorf("number events: %w", err)
	}
	return numbered, nil
}

package models_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/jobs"
)

// requireWaiting requires that so many writers come to wait.
func requireWaiting(t *testing.T, db *models.DB, n int) {
	t.Helper()
	require.Eventually(t, func() bool { return db.Waiting() == n }, modelstest.Patience, time.Millisecond)
}

// queue lets something be written that has to wait, and returns when it stands in the queue behind so many.
func queue(t *testing.T, db *models.DB, behind int, write func() error) (ended <-chan error) {
	t.Helper()
	end := make(chan error, 1)
	go func() { end <- write() }()
	requireWaiting(t, db, behind+1)
	return end
}

// Whoever comes first writes first: acts, single statements, transactions past the store, and jobs. Positions of events tell
// in which order they were stored.
func TestWritersTakeTurnsInTheOrderInWhichTheyCame(t *testing.T) {
	t.Parallel()
	const writers = 40 // more than any pool has connections
	db := modelstest.SQLite(t)
	holder, err := db.Raw().BeginTx(t.Context(), nil)
	require.NoError(t, err)
	kinds := []func(id string) error{
		func(id string) error { return db.Commit(context.Background(), specimenBatch(id)) },
		func(id string) error {
			batch := specimenBatch(id)
			batch.Jobs = []jobs.Job{jobs.Reassess(id, "h")}
			return db.Commit(context.Background(), batch)
		},
		func(id string) error {
			_, err := db.Raw().ExecContext(context.Background(), fmt.Sprintf(insertEvent, id, 1))
			return err
		},
		func(id string) error { return storedAlone(db, id) },
		func(id string) error { // the rows of an INSERT
			return db.Raw().QueryRowContext(context.Background(), fmt.Sprintf(insertEvent, id, 1)+" RETURNING stream").Scan(new(string))
		},
	}
	var want []string
	var ended []<-chan error
	for i := range writers {
		id := fmt.Sprintf("w%02d", (i*17)%writers) // names are in no order
		ended = append(ended, queue(t, db, i, func() error { return kinds[i%len(kinds)](id) }))
		want = append(want, fmt.Sprintf("specimen/%s 1", id))
	}
	require.NoError(t, holder.Commit())
	for _, end := range ended {
		require.NoError(t, <-end)
	}
	require.Equal(t, want, orderSoFar(t, db))
	require.Zero(t, db.Waiting())
}

func specimenBatch(id string) review.Batch {
	batch := oneEvent()
	batch.Events[0].Stream, batch.Events[0].Change = review.SpecimenStream(id), &review.SpecimenRegistered{ID: id}
	return batch
}

// storedAlone stores an event in a transaction on a connection of its own, as the library of jobs does.
func storedAlone(db *models.DB, id string) error {
	ctx := context.Background()
	conn, err := db.Raw().Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	tx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, fmt.Sprintf(insertEvent, id, 1)); err != nil {
		return err
	}
	return tx.Commit()
}

// Who hangs up leaves the queue, wherever in it, and the others keep their order.
func TestWhoHangsUpLeavesTheQueueOfWriters(t *testing.T) {
	t.Parallel()
	db := modelstest.SQLite(t)
	holder, err := db.Raw().BeginTx(t.Context(), nil)
	require.NoError(t, err)
	gone, hangUp := context.WithCancel(t.Context())
	contexts := map[string]context.Context{"a": gone, "c": gone, "e": gone}
	var stay, leave []<-chan error
	for i, id := range []string{"a", "b", "c", "d", "e"} {
		ctx, leaves := contexts[id]
		if !leaves {
			ctx = t.Context()
		}
		end := queue(t, db, i, func() error { return db.Commit(ctx, specimenBatch(id)) })
		if leaves {
			leave = append(leave, end)
		} else {
			stay = append(stay, end)
		}
	}
	hangUp()
	for _, end := range leave {
		require.ErrorIs(t, <-end, context.Canceled)
	}
	requireWaiting(t, db, 2)
	require.NoError(t, holder.Rollback())
	for _, end := range stay {
		require.NoError(t, <-end)
	}
	require.Equal(t, []string{"specimen/b 1", "specimen/d 1"}, orderSoFar(t, db))
}

// Whoever is cut off within a transaction leaves nothing behind, and the next one writes.
func TestAWriterThatIsCutOffFreesTheTurn(t *testing.T) {
	t.Parallel()
	db := modelstest.SQLite(t)
	for i := range 3 {
		ctx, cutOff := context.WithCancel(t.Context())
		tx, err := db.Raw().BeginTx(ctx, nil)
		require.NoError(t, err)
		storeIn(t, tx, fmt.Sprint("cut-", i), 1)
		next := queue(t, db, 0, func() error { return db.Commit(t.Context(), specimenBatch(fmt.Sprint("next-", i))) })
		cutOff()
		require.NoError(t, <-next)
		require.Error(t, tx.Commit())
	}
	require.Equal(t, []string{"specimen/next-0 1", "specimen/next-1 1", "specimen/next-2 1"}, orderSoFar(t, db))
	require.NoError(t, db.CheckSchema(t.Context()))
}

// A query that is interrupted costs its connection; the turn, and what others have prepared, go on.
func TestAnInterruptedStatementFreesTheTurn(t *testing.T) {
	t.Parallel()
	db := modelstest.SQLite(t)
	prepared, err := db.Raw().PrepareContext(t.Context(), "SELECT count(*) FROM events")
	require.NoError(t, err)
	defer prepared.Close()
	ctx, stop := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer stop()
	var n int
	endless := "WITH RECURSIVE c (n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM c) SELECT count(*) FROM c"
	require.ErrorIs(t, db.Raw().QueryRowContext(ctx, endless).Scan(&n), context.DeadlineExceeded)
	register(t, db, "a")
	require.NoError(t, db.Raw().QueryRowContext(t.Context(), "SELECT count(*) FROM events").Scan(&n))
	require.Equal(t, 1, n)
	requireSettings(t, db) // those of a new connection
}

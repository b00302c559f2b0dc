package modelstest

import (
	"context"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

var positions = map[string]func(fixture){
	"events are read in the order in which they were stored": storedInOrder,
	"a history goes by positions, not by clocks":             historyByPosition,
	"a history of nothing":                                   historyOfNothing,
	"heads of events are read on from a position":            headsReadOn,
}

var positionsAtOnce = map[string]func(fixture){
	"many writers leave one order without a gap": manyWritersOneOrder,
}

// requirePositions numbers what waits and returns all events, which must stand from 1 on without a gap and in the order of
// each stream.
func (f fixture) requirePositions() []review.Placed {
	f.Helper()
	f.numberAll()
	const size = 500
	var all []review.Placed
	for {
		page, err := f.db.EventsAfter(f.Context(), int64(len(all)), size)
		require.NoError(f, err)
		all = append(all, page...)
		if len(page) < size {
			break
		}
	}
	requireOneOrder(f, all)
	return all
}

// numberAll may have to wait: PostgreSQL counts transactions under way in all databases of a server, those of other tests
// as well.
func (f fixture) numberAll() {
	f.Helper()
	require.Eventually(f, func() bool {
		left, err := f.db.NumberEvents(f.Context())
		return err == nil && !left
	}, Patience, 5*time.Millisecond)
}

// requireOneOrder: positions from 1 on, and the events of each stream in order.
func requireOneOrder(f fixture, all []review.Placed) {
	f.Helper()
	seqs := map[string]int{}
	for i, e := range all {
		require.Equal(f, int64(i+1), e.Position)
		require.Equal(f, seqs[e.Stream]+1, e.Seq, e.Stream)
		seqs[e.Stream] = e.Seq
	}
}

// marks are the streams and numbers of events.
func marks(events []review.Placed) (marks []string) {
	for _, e := range events {
		marks = append(marks, fmt.Sprint(e.Stream, " ", e.Seq))
	}
	return marks
}

// storedInOrder: each batch comes after the one before, and within a batch streams by name; times do not matter.
func storedInOrder(f fixture) {
	f.commit(event(review.SpecimenStream("b"), 1, "ada", noon, &review.SpecimenRegistered{ID: "b"}))
	f.commit(event(review.SpecimenStream("a"), 1, "ada", noon.Add(-time.Hour), &review.SpecimenRegistered{ID: "a"}))
	f.commit(event(review.SubmissionStream("c"), 1, "ada", noon.Add(-2*time.Hour), &review.Drafted{ID: "c", Proposal: review.Proposal{Specimen: "a"}}),
		event(review.SpecimenStream("b"), 2, "ada", noon, &review.LabelCorrected{}),
		event(review.SpecimenStream("a"), 2, "ada", noon, &review.LabelCorrected{}))
	all := f.requirePositions()
	require.Equal(f, []string{"specimen/b 1", "specimen/a 1", "specimen/a 2", "specimen/b 2", "submission/c 1"}, marks(all))
	some, err := f.db.EventsAfter(f.Context(), 1, 2)
	require.NoError(f, err)
	require.Equal(f, all[1:3], some)
	none, err := f.db.EventsAfter(f.Context(), 5, 2)
	require.NoError(f, err)
	require.Empty(f, none)
}

// historyByPosition: a submission by a process whose clock is slow comes after what it follows, whether that has been
// numbered yet or not.
func historyByPosition(f fixture) {
	f.add(entry{id: "a", owner: "ada", family: "Elateridae"})
	f.numberAll()
	f.commit(event(review.SubmissionStream("b"), 1, "ada", noon.Add(-time.Hour), &review.Drafted{ID: "b", Proposal: review.Proposal{Specimen: "a"}}))
	f.commit(event(review.SpecimenStream("a"), 2, "ada", noon.Add(-time.Minute), &review.LabelCorrected{}))
	want := []string{"specimen/a 1", "submission/a 1", "submission/a 2", "submission/a 3", "submission/b 1", "specimen/a 2"}
	streams := []string{review.SubmissionStream("b"), review.SpecimenStream("a"), review.SubmissionStream("a")}
	for range 2 {
		history, err := f.db.History(f.Context(), streams...)
		require.NoError(f, err)
		require.Equal(f, want, marks(history))
		f.numberAll()
	}
}

func historyOfNothing(f fixture) {
	for _, streams := range [][]string{nil, {}, {"specimen/none"}, {"specimen/\x00", "\xff"}} {
		history, err := f.db.History(f.Context(), streams...)
		require.NoError(f, err)
		require.Empty(f, history)
	}
}

// manyWritersOneOrder: people act on the same streams at once, two processes number, and two read on from where they have
// come, to the end. What was read once stays where it was, and nothing comes in before it.
func manyWritersOneOrder(f fixture) {
	const writers, batches, shared = 8, 15, 3
	ctx, cancel := context.WithTimeout(f.Context(), 5*time.Minute) // far more than it takes on a busy machine
	defer cancel()
	var working, reading sync.WaitGroup
	errs := make(chan error, 100)
	background := func(step func() error) {
		working.Go(func() {
			for ctx.Err() == nil {
				if err := step(); err != nil && ctx.Err() == nil {
					errs <- err
					return
				}
			}
		})
	}
	for range 2 {
		background(func() error { _, err := f.db.NumberEvents(ctx); return err })
	}
	read := make([][]review.Placed, 2)
	var written atomic.Int64 // 0: that is not known yet
	for i := range read {
		reading.Go(func() {
			for all := int64(0); all == 0 || int64(len(read[i])) < all; all = written.Load() {
				page, err := f.db.EventsAfter(ctx, int64(len(read[i])), 7)
				if err != nil {
					errs <- err
					return
				}
				read[i] = append(read[i], page...)
			}
		})
	}
	stored := f.write(writers, batches, shared)
	written.Store(int64(stored))
	reading.Wait()
	cancel()
	working.Wait()
	select {
	case err := <-errs:
		require.NoError(f, err)
	default:
	}
	all := f.requirePositions()
	require.Len(f, all, stored)
	for _, early := range read {
		require.Equal(f, all, early, "what was read has another place now")
	}
}

// write lets people register specimens and go on with shared ones at once, and returns how many events were stored: whoever
// loses a race for a shared one leaves it.
func (f fixture) write(writers, batches, shared int) (events int) {
	f.Helper()
	for i := range shared {
		f.commit(event(review.SpecimenStream(fmt.Sprint("shared-", i)), 1, "ada", noon, &review.SpecimenRegistered{ID: fmt.Sprint("shared-", i)}))
	}
	var all sync.WaitGroup
	stored := make([]int, writers)
	errs := make([]error, writers)
	for w := range writers {
		all.Go(func() {
			for b := range batches {
				own := fmt.Sprintf("w%d-%d", w, b)
				batch := review.Batch{Specimens: []review.Specimen{{ID: own, Seq: 1}}, Events: []review.Event{
					event(review.SpecimenStream(own), 1, "ada", noon.Add(-time.Duration(b)*time.Hour), &review.SpecimenRegistered{ID: own})}}
				together, err := f.withShared(batch, fmt.Sprint("shared-", (w+b)%shared))
				if err == nil {
					err = f.db.Commit(f.Context(), together)
				}
				if review.KindOf(err) == review.KindConflict {
					together = batch
					err = f.db.Commit(f.Context(), batch)
				}
				if err != nil {
					errs[w] = err
					return
				}
				stored[w] += len(together.Events)
			}
		})
	}
	all.Wait()
	events = shared
	for w := range writers {
		require.NoError(f, errs[w])
		events += stored[w]
	}
	return events
}

// withShared is a batch with one more event, of a specimen that others go on with, too.
func (f fixture) withShared(batch review.Batch, id string) (review.Batch, error) {
	events, err := f.db.Events(f.Context(), review.SpecimenStream(id))
	if err != nil {
		return batch, err
	}
	next := event(review.SpecimenStream(id), len(events)+1, "ada", noon, &review.LabelCorrected{})
	specimen, err := review.ReplaySpecimen(append(events, next))
	batch.Events = append([]review.Event{next}, batch.Events...)
	batch.Specimens = append([]review.Specimen{specimen}, batch.Specimens...)
	return batch, err
}

func headsReadOn(f fixture) {
	last, err := f.db.LastPosition(f.Context())
	require.NoError(f, err)
	require.Zero(f, last)
	f.add(entry{id: "s", owner: "ada", catalogue: "AB-1", family: "Elateridae", group: "adults"})
	all := f.requirePositions()
	last, err = f.db.LastPosition(f.Context())
	require.NoError(f, err)
	require.Equal(f, all[len(all)-1].Position, last)
	var heads []service.EventHead
	for position := int64(0); position < last; position = heads[len(heads)-1].Position {
		found, err := f.db.HeadsAfter(f.Context(), position, 3)
		require.NoError(f, err)
		heads = append(heads, found...)
	}
	require.Len(f, heads, len(all))
	for i, e := range all {
		require.Equal(f, service.EventHead{Position: e.Position, Stream: e.Stream, Kind: e.Change.EventKind(), Actor: e.Actor}, heads[i])
	}
	found, err := f.db.HeadsAfter(f.Context(), last, 3)
	require.NoError(f, err)
	require.Empty(f, found)
}

package models

import (
	"container/list"
	"context"
	"errors"
	"sync"
)

// turns is a queue before something that one at a time can have: whoever came first has it first. Neither database/sql,
// which wakes any of those who wait, nor SQLite, where each looks every now and then, keeps such an order.
type turns struct {
	mu      sync.Mutex
	taken   bool
	waiting list.List // of chan struct{}, each closed when its turn has come; empty unless taken
}

// errInQueue is of who has left the queue: others held what was waited for.
var errInQueue = errors.New("others had the turn")

// take waits for a turn. Who gives up before, because ctx has ended, leaves the queue.
func (t *turns) take(ctx context.Context) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	t.mu.Lock()
	if !t.taken {
		t.taken = true
		t.mu.Unlock()
		return nil
	}
	ticket := make(chan struct{})
	place := t.waiting.PushBack(ticket)
	t.mu.Unlock()
	select {
	case <-ticket:
		return nil
	case <-ctx.Done():
		t.leave(place)
		return errors.Join(errInQueue, ctx.Err())
	}
}

// leave gives a place up, or the turn where it has come at this very moment.
func (t *turns) leave(place *list.Element) {
	t.mu.Lock()
	defer t.mu.Unlock()
	select {
	case <-place.Value.(chan struct{}):
		t.next()
	default:
		t.waiting.Remove(place)
	}
}

// give ends a turn.
func (t *turns) give() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.next()
}

// next hands the turn over; t.mu is held.
func (t *turns) next() {
	first := t.waiting.Front()
	if first == nil {
		t.taken = false
		return
	}
	close(t.waiting.Remove(first).(chan struct{}))
}

// length is how many wait.
func (t *turns) length() int {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.waiting.Len()
}

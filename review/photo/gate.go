package photo

import (
	"context"
	"fmt"
	"io"
)

// Gate lets at most so many pictures be decoded at once, so that a burst of uploads cannot exhaust memory.
// It is safe for use by several goroutines.
type Gate struct{ slots chan struct{} }

// NewGate returns a gate for n pictures at once; n below 1 counts as 1.
func NewGate(n int) *Gate { return &Gate{slots: make(chan struct{}, max(n, 1))} }

// Read is Read behind the gate. The upload is received before a slot is taken, so that a slow sender holds none.
// It returns the context's error if ctx ends while waiting.
func (g *Gate) Read(ctx context.Context, r io.Reader, l Limits) (Picture, error) {
	l = l.orDefault()
	data, err := readAll(r, l)
	if err != nil {
		return Picture{}, err
	}
	select {
	case g.slots <- struct{}{}:
	case <-ctx.Done():
		return Picture{}, fmt.Errorf("photo: waiting for a free decoder: %w", ctx.Err())
	}
	defer func() { <-g.slots }()
	return read(data, l)
}

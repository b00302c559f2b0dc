package blob

import (
	"bytes"
	"cmp"
	"context"
	"io"
	"maps"
	"slices"
	"sync"
	"time"

	"revidit/review/service"
)

var _ service.Blobs = (*Mem)(nil)

// Mem keeps bytes in memory, for tests. The zero value is empty and ready; it is safe for concurrent use.
type Mem struct {
	mu    sync.RWMutex
	data  map[string]memBytes
	aside map[string]memBytes
}

type memBytes struct {
	data []byte
	at   time.Time // put, or set aside
}

// Put implements service.Blobs.
func (m *Mem) Put(ctx context.Context, name string, data []byte) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := checkName(name); err != nil {
		return err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	put(&m.data, name, memBytes{data: slices.Clone(data), at: time.Now()})
	return nil
}

func put(into *map[string]memBytes, name string, bytes memBytes) {
	if *into == nil {
		*into = map[string]memBytes{}
	}
	(*into)[name] = bytes
}

// Open implements service.Blobs.
func (m *Mem) Open(ctx context.Context, name string) (io.ReadCloser, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	m.mu.RLock()
	defer m.mu.RUnlock()
	stored, known := m.data[name]
	if !known {
		stored, known = m.aside[name]
	}
	if !known {
		return nil, notFound(name)
	}
	return io.NopCloser(bytes.NewReader(stored.data)), nil
}

// Stored implements service.Sweeper.
func (m *Mem) Stored(ctx context.Context, after string, most int) ([]string, error) {
	m.mu.RLock()
	defer m.mu.RUnlock()
	return namesIn(m.data, after, most), ctx.Err()
}

// StoredAside implements service.Sweeper.
func (m *Mem) StoredAside(ctx context.Context, after string, most int) ([]string, error) {
	m.mu.RLock()
	defer m.mu.RUnlock()
	return namesIn(m.aside, after, most), ctx.Err()
}

func namesIn(stored map[string]memBytes, after string, most int) []string {
	all := slices.SortedFunc(maps.Keys(stored), func(a, b string) int { return cmp.Compare(inOrder(a), inOrder(b)) })
	all = slices.DeleteFunc(all, func(name string) bool { return !beyond(name, after) })
	return all[:min(most, len(all))]
}

// SetAside implements service.Sweeper.
func (m *Mem) SetAside(ctx context.Context, names []string, before time.Time) (int, error) {
	return m.each(ctx, names, func(name string) bool {
		stored, known := m.data[name]
		if !known || !stored.at.Before(before) {
			return false
		}
		stored.at = time.Now()
		put(&m.aside, name, stored)
		delete(m.data, name)
		return true
	})
}

// PutBack implements service.Sweeper.
func (m *Mem) PutBack(ctx context.Context, names []string) (int, error) {
	return m.each(ctx, names, func(name string) bool {
		stored, known := m.aside[name]
		if known {
			put(&m.data, name, stored)
			delete(m.aside, name)
		}
		return known
	})
}

// Discard implements service.Sweeper.
func (m *Mem) Discard(ctx context.Context, names []string, before time.Time) (int, error) {
	return m.each(ctx, names, func(name string) bool {
		stored, known := m.aside[name]
		if !known || !stored.at.Before(before) {
			return false
		}
		delete(m.aside, name)
		return true
	})
}

func (m *Mem) each(ctx context.Context, names []string, do func(name string) bool) (n int, err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return 0, err
	}
	for _, name := range names {
		if err := checkName(name); err != nil {
			return n, err
		}
		if do(name) {
			n++
		}
	}
	return n, nil
}

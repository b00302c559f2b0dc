package blob

import (
	"bytes"
	"context"
	"io"
	"slices"
	"sync"

	"revidit/review/service"
)

var _ service.Blobs = (*Mem)(nil)

// Mem keeps bytes in memory, for tests. The zero value is empty and ready; it is safe for concurrent use.
type Mem struct {
	mu   sync.RWMutex
	data map[string][]byte
}

// Put implements review.Blobs.
func (m *Mem) Put(ctx context.Context, name string, data []byte) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := checkName(name); err != nil {
		return err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if _, stored := m.data[name]; stored {
		return nil
	}
	if m.data == nil {
		m.data = map[string][]byte{}
	}
	m.data[name] = slices.Clone(data)
	return nil
}

// Open implements review.Blobs.
func (m *Mem) Open(ctx context.Context, name string) (io.ReadCloser, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	m.mu.RLock()
	defer m.mu.RUnlock()
	data, stored := m.data[name]
	if !stored {
		return nil, notFound(name)
	}
	return io.NopCloser(bytes.NewReader(data)), nil
}

package darwincore

import (
	"io"
	"testing"

	"github.com/stretchr/testify/require"
)

// BenchmarkAppend is what the rows of a record take, without a database.
func BenchmarkAppend(b *testing.B) {
	o := exact
	o.Media = false
	w, err := NewWriter(o, club, func() (Spool, error) { return &memory{}, nil })
	require.NoError(b, err)
	r := example()
	for b.Loop() {
		require.NoError(b, w.Append(&r))
	}
	_, err = w.Close(io.Discard)
	require.NoError(b, err)
}

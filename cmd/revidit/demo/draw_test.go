package demo

import (
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// TestDrawingAtOnce: pictures that are drawn side by side come in the order of the list, and are those of each alone.
func TestDrawingAtOnce(t *testing.T) {
	tables, size := diagnosis.Default(), Size{Width: 120, Height: 90}
	list := inOrder(specimens)[:6]
	i := 0
	for result := range drawAll(t.Context(), list, tables, size) {
		require.Equal(t, drawOne(i, list[i], tables, size), <-result)
		i++
	}
	require.Equal(t, len(list), i)
}

package booklet

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
	"revidit/review/service"
)

// TestOrderOfPages: eight pages are two sheets, and 6 and 3 lie face to face with 4 and 5 in the middle; common practice, no source.
func TestOrderOfPages(t *testing.T) {
	require.Equal(t, [][]int{{8, 1}, {2, 7}, {6, 3}, {4, 5}}, order(8, A4))
	require.Equal(t, [][]int{{4, 1}, {2, 3}}, order(3, A4))
	require.Equal(t, [][]int{{1}, {2}, {3}}, order(3, A5))
}

// TestEqualBytes: equal keys are equal files, on either paper.
func TestEqualBytes(t *testing.T) {
	tables := diagnosis.Default()
	made, err := service.MakeKey(tables, service.KeyChoice{Region: "world", Families: []string{"Meloidae", "Cantharidae", "Elateridae"}}, nil)
	require.NoError(t, err)
	for _, sheet := range []Sheet{A4, A5} {
		one, err := Write(context.Background(), tables, made, sheet)
		require.NoError(t, err)
		two, err := Write(context.Background(), tables, made, sheet)
		require.NoError(t, err)
		require.Equal(t, one, two)
		require.Equal(t, "%PDF", string(one[:4]))
	}
}

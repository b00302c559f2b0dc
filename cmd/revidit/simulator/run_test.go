package simulator

import (
	"context"
	"fmt"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/cmd/revidit/simulator/nature"
	"revidit/review"
	"revidit/review/diagnosis"
)

// TestWorldsAtOnce lets one world go its course twice at the same time, with one judge: equal options give equal results,
// and nothing is shared that the race detector minds.
func TestWorldsAtOnce(t *testing.T) {
	judge := review.NewJudge(diagnosis.Default())
	o := nature.Options{Seed: 3, Specimens: 50, WrongCells: nature.UsuallyWrongCells}
	results := make([]Result, 2)
	var closed atomic.Int64
	require.NoError(t, Each(t.Context(), len(results), func(ctx context.Context, i int) (err error) {
		results[i], err = Run(ctx, judge, o, func() { closed.Add(1) })
		return err
	}))
	require.Equal(t, fmt.Sprint(results[0]), fmt.Sprint(results[1]), "in words, since a figure that so few cannot have is no number")
	require.EqualValues(t, 2*2*o.Specimens, closed.Load(), "by gain and in order of arrival, in both")

	closed.Store(0)
	ours, err := RunOurs(t.Context(), judge, o, func() { closed.Add(1) })
	require.NoError(t, err)
	require.EqualValues(t, o.Specimens, closed.Load())
	require.Len(t, ours.Specimens, o.Specimens)
}

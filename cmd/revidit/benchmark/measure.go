// Package benchmark measures on the machine that it runs on how long assessments, posteriors and estimates of
// reliability take. Its cases are made up from the tables by a seeded generator, so that a run can be repeated.
package benchmark

import (
	"context"
	"runtime"
	"slices"
	"time"
)

// rounds is how often everything is timed. The median of them is taken, because other programs only ever add time.
const rounds = 7

// Cost is what one unit of work takes: the median of the rounds.
type Cost struct {
	Seconds float64
	// Fastest and Slowest are the rounds furthest from the median, in seconds a unit: where they are far apart, the machine
	// did something else as well.
	Fastest, Slowest float64
	Allocs           float64 // allocations on the heap, a mean over units
}

// Microseconds is the time in millionths of a second.
func (c Cost) Microseconds() float64 { return c.Seconds * 1e6 }

// perUnit times do, which does the given number of units, on one core: collecting garbage counts, too. It does one
// round that is not counted first.
func perUnit(ctx context.Context, units int, do func()) (Cost, error) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	do()
	var seconds, allocs []float64
	for range rounds {
		if err := ctx.Err(); err != nil {
			return Cost{}, err
		}
		runtime.GC()
		before := allocations()
		start := time.Now()
		do()
		seconds = append(seconds, time.Since(start).Seconds()/float64(units))
		allocs = append(allocs, float64(allocations()-before)/float64(units))
	}
	cost := costOf(seconds)
	cost.Allocs = median(allocs)
	return cost, nil
}

func costOf(seconds []float64) Cost {
	return Cost{Seconds: median(seconds), Fastest: slices.Min(seconds), Slowest: slices.Max(seconds)}
}

func allocations() uint64 {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.Mallocs
}

// median is of an odd number of values.
func median(values []float64) float64 {
	slices.Sort(values)
	return values[len(values)/2]
}

package models_test

import (
	"cmp"
	"fmt"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
)

// BenchmarkSQLiteWriters compares how long acts of eight people at once take who stand in the queue with the same acts on
// the same disk where each looks for itself every now and then whether the file is free, as SQLite has it, and where the
// pool of connections wakes any of them (database/sql), in rounds that take turns. The ratio is that of the slowest
// hundredth to the median.
func BenchmarkSQLiteWriters(b *testing.B) {
	const people = 8
	kinds := []string{"queue", "busy", "woken"}
	sides := map[string]*actor{}
	took := map[string][]time.Duration{}
	for _, kind := range kinds {
		db, err := models.OpenWriters(b.Context(), filepath.Join(b.TempDir(), "revidit.db"), kind)
		require.NoError(b, err)
		defer db.Close()
		require.NoError(b, db.Migrate(b.Context()))
		sides[kind] = &actor{b: b, db: db}
	}
	for b.Loop() {
		for _, kind := range kinds {
			took[kind] = append(took[kind], sides[kind].each(people)...)
		}
	}
	for _, kind := range kinds {
		slices.Sort(took[kind])
		half, slowest := took[kind][len(took[kind])/2], took[kind][len(took[kind])*99/100]
		b.ReportMetric(float64(half.Microseconds())/1000, kind+"_p50_ms")
		b.ReportMetric(float64(slowest.Microseconds())/1000, kind+"_p99_ms")
		b.ReportMetric(float64(slowest)/float64(cmp.Or(half, 1)), kind+"_p99/p50")
	}
}

// each is how long each act of some people took.
func (a *actor) each(people int) (took []time.Duration) {
	const acts = 50
	var all sync.WaitGroup
	times, errs := make([][]time.Duration, people), make([]error, people)
	first := a.made
	a.made += people * acts
	for p := range people {
		all.Go(func() {
			for i := range acts {
				began := time.Now()
				if err := a.db.Commit(a.b.Context(), specimenBatch(fmt.Sprint("s", first+p*acts+i))); err != nil {
					errs[p] = err
					return
				}
				times[p] = append(times[p], time.Since(began))
			}
		})
	}
	all.Wait()
	for p := range people {
		require.NoError(a.b, errs[p])
		took = append(took, times[p]...)
	}
	return took
}

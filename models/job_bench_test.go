package models_test

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/review"
	"revidit/review/jobs"
)

// BenchmarkAsk compares acts that ask for a job with the same acts that ask for none, by one person and by eight at
// once, in rounds that take turns, so that both meet the same machine. "fresh" asks for a job that nobody else has asked
// for and "same" for one that waits already, as nearly every act does. ns/op is of an act that asks for none.
func BenchmarkAsk(b *testing.B) {
	asks := map[string]func(n int) []jobs.Job{
		"fresh": func(n int) []jobs.Job { return []jobs.Job{jobs.Learn(fmt.Sprint("group-", n))} },
		"same":  func(int) []jobs.Job { return []jobs.Job{jobs.Learn("adults")} },
	}
	for name, open := range databases {
		for _, people := range []int{1, 8} {
			for kind, ask := range asks {
				b.Run(fmt.Sprintf("%s/people=%d/%s", name, people, kind), func(b *testing.B) {
					db := open(b)
					acts := &actor{b: b, db: db}
					var plain, asking time.Duration
					for b.Loop() {
						plain += acts.round(people, func(int) []jobs.Job { return nil })
						asking += acts.round(people, ask)
					}
					b.ReportMetric(float64(asking)/float64(plain), "ask_ratio")
					b.ReportMetric(float64(plain.Nanoseconds())/float64(acts.made/2), "ns/act")
				})
			}
		}
	}
}

type actor struct {
	b    *testing.B
	db   *models.DB
	made int
}

// round is how long each of some people take for their acts.
func (a *actor) round(people int, ask func(int) []jobs.Job) time.Duration {
	const acts = 20
	var all sync.WaitGroup
	errs := make([]error, people)
	first := a.made
	a.made += people * acts
	began := time.Now()
	for p := range people {
		all.Go(func() {
			for i := range acts {
				n := first + p*acts + i
				id := fmt.Sprint("s", n)
				batch := review.Batch{Specimens: []review.Specimen{{ID: id, Seq: 1}}, Jobs: ask(n), Events: []review.Event{{Stream: review.SpecimenStream(id),
					Seq: 1, At: time.Unix(0, 0).UTC(), Actor: "ada", Role: review.RoleMember, Change: &review.SpecimenRegistered{ID: id}}}}
				if err := a.db.Commit(a.b.Context(), batch); err != nil {
					errs[p] = err
					return
				}
			}
		})
	}
	all.Wait()
	took := time.Since(began)
	for _, err := range errs {
		require.NoError(a.b, err)
	}
	return took
}

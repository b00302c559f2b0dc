package models_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/jobs"
	"revidit/review/service"
)

// An act on PostgreSQL has found a run about to begin, and so asked for no other one, and is stored after that run has
// begun to be due: the run waits for it, or is followed by another one.
func TestRunsSeeActsThatAreUnderWay(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		slice, act time.Duration
		waits      bool
	}{
		"a quick act": {30 * time.Second, 700 * time.Millisecond, true},
		"a long one":  {300 * time.Millisecond, 1500 * time.Millisecond, false},
	} {
		t.Run(name, func(t *testing.T) {
			db, job := modelstest.Postgres(t), jobs.Learn("a")
			require.NoError(t, db.Commit(t.Context(), review.Batch{Jobs: []jobs.Job{job}}))
			act, err := db.Raw().BeginTx(t.Context(), nil)
			require.NoError(t, err)
			_, err = act.ExecContext(t.Context(), `INSERT INTO events VALUES ('specimen/s', 1, now(), 'ada', 'reviewer', 'specimen-registered', '{"id":"s"}')`)
			require.NoError(t, err)

			var seen []int
			h := handlerFunc(func(ctx context.Context, _ jobs.Slice) (service.JobStep, error) {
				events, err := db.Events(ctx, review.SpecimenStream("s"))
				seen = append(seen, len(events))
				return service.JobStep{}, err
			})
			ctx, cancel := context.WithCancel(t.Context())
			ended := make(chan error, 1)
			go func() {
				ended <- db.RunJobs(ctx, h, models.JobOptions{Poll: 50 * time.Millisecond, Slice: c.slice, Retry: time.Millisecond})
			}()
			time.Sleep(c.act)
			require.NoError(t, act.Commit())
			require.Eventually(t, func() bool {
				p, err := db.Job(t.Context(), job.Kind, job.Key)
				return err == nil && p.Status == jobs.Done
			}, modelstest.Patience, 10*time.Millisecond)
			cancel()
			require.NoError(t, <-ended)
			require.Equal(t, 1, seen[len(seen)-1], "%v", seen)
			if c.waits {
				require.Equal(t, []int{1}, seen)
			} else {
				require.Zero(t, seen[0])
			}
		})
	}
}

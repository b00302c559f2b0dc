package models_test

import (
	"context"
	"os"
	"strconv"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/blob"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/audit"
	"revidit/review/diagnosis"
	"revidit/review/jobs"
	"revidit/review/service"
)

var stores = map[string]func(testing.TB) *models.DB{
	"SQLite":   func(t testing.TB) *models.DB { return modelstest.SQLite(t) },
	"Postgres": func(t testing.TB) *models.DB { return modelstest.Postgres(t) },
}

var curator = review.Actor{Person: "cora", Role: review.RoleCurator}

func newService(db *models.DB, tables *diagnosis.Tables) *service.Service {
	return service.NewService(db, &blob.Mem{}, service.NewLibrary(tables), service.Options{})
}

// dying is a handler whose process ends in the middle of a slice.
type dying struct {
	service.JobHandler
	slices atomic.Int32
	at     int32
	die    context.CancelFunc
}

func (d *dying) DoSlice(ctx context.Context, s jobs.Slice) (service.JobStep, error) {
	if s.Kind == jobs.KindReassess && d.slices.Add(1) == d.at {
		d.die()
		<-ctx.Done()
		return service.JobStep{}, ctx.Err()
	}
	return d.JobHandler.DoSlice(ctx, s)
}

func (d *dying) DueJobs(context.Context) ([]jobs.Job, error) { return nil, nil }

// TestReassessingGoesOn: of many open submissions each is assessed once with the tables in force, although the process
// ended in the middle.
func TestReassessingGoesOn(t *testing.T) {
	t.Parallel()
	for name, open := range stores {
		t.Run(name, func(t *testing.T) {
			const n = 650
			db, tables := open(t), modelstest.Tables(t)
			modelstest.Crowd(t, db, tables, "open", n, false)
			s := newService(db, tables)
			job, err := s.Reassess(t.Context(), curator, "")
			require.NoError(t, err)

			ctx, die := context.WithCancel(t.Context())
			first := &dying{JobHandler: s, at: 3, die: die}
			options := models.JobOptions{Poll: 50 * time.Millisecond, Grace: 200 * time.Millisecond}
			_ = db.RunJobs(ctx, first, options) // what a process that is ended says is nothing that one can rely on
			require.Equal(t, 400, assessed(t, db, tables))

			ctx, stop := context.WithCancel(t.Context())
			defer stop()
			ended := make(chan error, 1)
			go func() { ended <- db.RunJobs(ctx, &dying{JobHandler: s}, options) }()
			require.Eventually(t, func() bool {
				p, err := db.Job(t.Context(), job.Kind, job.Key)
				return err == nil && p.Status == jobs.Done
			}, modelstest.Patience, 50*time.Millisecond)
			stop()
			require.NoError(t, <-ended)
			require.Equal(t, n, assessed(t, db, tables))
		})
	}
}

// assessed is how many open submissions were assessed with the tables, each of them once; unread are streams of what cannot be
// read.
func assessed(t *testing.T, db *models.DB, tables *diagnosis.Tables, unread ...string) int {
	t.Helper()
	n := 0
	filter := service.DeterminationFilter{Group: tables.Group.ID, Unread: func(stream string) { require.Contains(t, unread, stream) }}
	found, _, err := db.FindDeterminations(t.Context(), filter, service.Page{Size: 10_000})
	require.NoError(t, err)
	for _, d := range found {
		s := d.Submission
		if s.Assessment.TablesHash != tables.Hash {
			continue
		}
		n++
		events, err := db.Events(t.Context(), review.SubmissionStream(s.ID))
		times := 0
		for _, e := range events {
			if c, ok := e.Change.(*review.Assessed); ok && c.Assessment.TablesHash == tables.Hash {
				times++
			}
		}
		require.NoError(t, err)
		require.Equal(t, 1, times, s.ID)
	}
	return n
}

// TestFiguresAreThoseOfTheValues: what jobs find in the rows is what is computed from the values directly, and nothing is
// learnt twice.
func TestFiguresAreThoseOfTheValues(t *testing.T) {
	t.Parallel()
	for name, open := range stores {
		t.Run(name, func(t *testing.T) {
			const n = 230 // more than is looked through at once
			db, tables := open(t), modelstest.Tables(t)
			modelstest.Crowd(t, db, tables, "closed", n, true)
			modelstest.Crowd(t, db, tables, "open", 5, false)
			policy := review.DefaultPolicy()
			policy.Version, policy.ReliabilityShown = 1, review.ShownNames // so that pairs can be compared
			set := review.Event{Stream: review.PolicyStream, Seq: 1, At: time.Now(), Actor: "c", Role: review.RoleCurator, Change: &review.PolicySet{Policy: policy}}
			require.NoError(t, db.Commit(t.Context(), review.Batch{Events: []review.Event{set}, Policy: &policy}))
			s := newService(db, tables)
			group := tables.Group.ID
			judge, err := s.Judge(t.Context(), group)
			require.NoError(t, err)

			require.NoError(t, s.Do(t.Context(), jobs.Learn(group), nil))
			once, err := db.Reliability(t.Context(), group)
			require.NoError(t, err)
			require.Len(t, once.Added, n)
			require.NoError(t, s.Do(t.Context(), jobs.Learn(group), nil))
			twice, err := db.Reliability(t.Context(), group)
			require.NoError(t, err)
			require.Equal(t, once, twice)

			var closed []review.Closed
			var drawn []review.Submission
			require.NoError(t, db.EachSpecimen(t.Context(), group, func(spec review.Specimen, submissions []review.Submission) error {
				if c, ok := review.ClosedOf(&spec, submissions); ok {
					closed, drawn = append(closed, c), append(drawn, submissions...)
				}
				return nil
			}))
			fitted, err := audit.Refit(judge, once, closed, nil, time.Now())
			require.NoError(t, err)
			require.NoError(t, s.Do(t.Context(), jobs.Refit(group), nil))
			stored, err := db.Reliability(t.Context(), group)
			require.NoError(t, err)
			require.Equal(t, fitted.Specimens, stored.Specimens)
			require.Equal(t, fitted.Items, stored.Items)
			require.Equal(t, fitted.People, stored.People)
			require.Empty(t, stored.Added)
			waits, err := db.TestimonyWaits(t.Context(), group)
			require.NoError(t, err)
			require.False(t, waits, "a refit has learnt from all")

			early, _, err := s.Agreement(t.Context(), curator, group, review.Period{})
			require.NoError(t, err)
			require.True(t, early.MadeAt.IsZero(), "nobody has worked it out")
			require.NoError(t, s.FiguresAnew(t.Context(), curator, group, review.Period{}, review.FoundAgreement))
			early, _, err = s.Agreement(t.Context(), curator, group, review.Period{})
			require.NoError(t, err)
			require.NotNil(t, early.Walk)
			for _, which := range []string{"agreement", "calibration"} {
				require.NoError(t, s.Do(t.Context(), jobs.Figures(jobs.Which{Group: group, Which: which}), nil))
			}
			got, _, err := s.Agreement(t.Context(), curator, group, review.Period{})
			require.NoError(t, err)
			want, err := audit.Agree(judge, closed, stored, nil)
			require.NoError(t, err)
			want.Waiting, want.Dated = 5, got.Dated
			require.False(t, got.MadeAt.IsZero())
			require.Positive(t, got.PeakBytes)
			requireAlike(t, want, got)

			calibration, err := s.Calibration(t.Context(), curator, group, review.Period{})
			require.NoError(t, err)
			direct, err := audit.Calibrate(tables, drawn)
			require.NoError(t, err)
			direct.Dated = calibration.Dated
			require.Equal(t, direct.Cases, calibration.Cases)
			require.Equal(t, n, calibration.Closed)
			require.InDelta(t, direct.Closing.Brier.Value, calibration.Closing.Brier.Value, 1e-12)
			require.Equal(t, direct.Closing.Bins, calibration.Closing.Bins)
		})
	}
}

// requireAlike: the order of specimens, and with it the last digits of sums, may differ.
func requireAlike(t *testing.T, want, got audit.Agreement) {
	t.Helper()
	require.Equal(t, []int{want.Specimens, want.Waiting, want.Earlier, len(want.Sets), len(want.Copying.Pairs)},
		[]int{got.Specimens, got.Waiting, got.Earlier, len(got.Sets), len(got.Copying.Pairs)})
	for i, set := range want.Sets {
		require.Len(t, got.Sets[i].Pairs, len(set.Pairs))
		require.Equal(t, set.Overall.Alpha.Units, got.Sets[i].Overall.Alpha.Units)
		require.InDelta(t, *set.Overall.Alpha.Value, *got.Sets[i].Overall.Alpha.Value, 1e-12)
		require.InDelta(t, set.Overall.Alpha.StandardError, got.Sets[i].Overall.Alpha.StandardError, 1e-12)
		for k, p := range set.Pairs {
			require.Equal(t, []any{p.A, p.B, p.Units, p.Same}, []any{got.Sets[i].Pairs[k].A, got.Sets[i].Pairs[k].B, got.Sets[i].Pairs[k].Units, got.Sets[i].Pairs[k].Same})
		}
	}
	for k, p := range want.Copying.Pairs {
		require.InDelta(t, p.Tail, got.Copying.Pairs[k].Tail, 1e-9)
	}
}

// BenchmarkWork measures jobs on the real tables: REVIDIT_CROWD closed specimens, and a tenth of as many open ones.
func BenchmarkWork(b *testing.B) {
	n, err := strconv.Atoi(os.Getenv("REVIDIT_CROWD"))
	if err != nil {
		n = 1000
	}
	for name, open := range stores {
		b.Run(name, func(b *testing.B) {
			db, tables := open(b), diagnosis.Default()
			began := time.Now()
			modelstest.Crowd(b, db, tables, "closed", n, true)
			modelstest.Crowd(b, db, tables, "open", n/10, false)
			b.Logf("%d made in %.1f s", n, time.Since(began).Seconds())
			s, group := newService(db, tables), tables.Group.ID
			for range b.N {
				for _, job := range []jobs.Job{jobs.Refit(group), jobs.Figures(jobs.Which{Group: group, Which: "agreement"}),
					jobs.Figures(jobs.Which{Group: group, Which: "calibration"}), jobs.Reassess(group, tables.Hash)} {
					began := time.Now()
					longest, last, slices := time.Duration(0), began, 0
					require.NoError(b, s.Do(b.Context(), job, func(service.JobStep) {
						longest, last, slices = max(longest, time.Since(last)), time.Now(), slices+1
					}))
					b.Logf("%s %s: %.1f s, %d slices, longest %.1f s", job.Kind, job.Key, time.Since(began).Seconds(), slices, longest.Seconds())
				}
				agreement, _, err := s.Agreement(b.Context(), curator, group, review.Period{})
				require.NoError(b, err)
				calibration, err := s.Calibration(b.Context(), curator, group, review.Period{})
				require.NoError(b, err)
				refit, err := db.Found(b.Context(), review.FoundRefit, group, "")
				require.NoError(b, err)
				b.Logf("peak: refit %d MB, agreement %d MB (%d ms), calibration %d MB (%d ms)", refit.Made.Peak>>20, agreement.PeakBytes>>20, agreement.TookMS,
					calibration.PeakBytes>>20, calibration.TookMS)
				began := time.Now()
				for range 20 {
					_, _, err := s.Agreement(b.Context(), curator, group, review.Period{})
					require.NoError(b, err)
				}
				b.Logf("agreement as a page reads it: %.1f ms", time.Since(began).Seconds()*50)
			}
		})
	}
}

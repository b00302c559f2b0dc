package models

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"runtime/debug"
	"time"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/rivertype"
	"gorm.io/gorm"

	"revidit/migrations"
	"revidit/review"
	"revidit/review/jobs"
	"revidit/review/service"
)

// JobOptions say how RunJobs works. The zero value of each is what a service wants; tests are more impatient.
type JobOptions struct {
	Log     *slog.Logger  // nil: nothing is told
	Workers int           // slices at the same time in this process; 2
	Slice   time.Duration // a slice that takes longer is given up, and is asked to end after a third of it; 30 s
	Rescue  time.Duration // a slice that is not stored after this time was lost with its process; at least Slice and 30 s; 2 min
	Poll    time.Duration // how often to look for what other processes have asked for; 1 s
	Watch   time.Duration // how often to look for jobs that were lost; 1 min
	Retry   time.Duration // before the second try of a slice that failed, then twice as long each time, up to 5 min; 2 s
	Grace   time.Duration // for slices to end by themselves when the process stops; 5 s
}

const (
	maxTries      = 8 // of one slice, before a job has failed
	maxCollisions = 3 // tries at once of a slice that collides with an act
	longestRetry  = 5 * time.Minute
	longestSettle = 10 * time.Second
)

func (o JobOptions) withDefaults() JobOptions {
	o.Log = cmp.Or(o.Log, slog.New(slog.DiscardHandler))
	o.Workers = cmp.Or(o.Workers, 2)
	o.Slice = cmp.Or(o.Slice, 30*time.Second)
	o.Rescue = cmp.Or(o.Rescue, 2*time.Minute)
	o.Poll = cmp.Or(o.Poll, time.Second)
	o.Watch = cmp.Or(o.Watch, time.Minute)
	o.Retry = cmp.Or(o.Retry, 2*time.Second)
	o.Grace = cmp.Or(o.Grace, 5*time.Second)
	return o
}

// RunJobs does jobs until ctx ends, together with whatever other processes do so. Then slices end by themselves, or
// after a while are cut off and begin again in another process; nothing is lost.
func (db *DB) RunJobs(ctx context.Context, handler service.JobHandler, options JobOptions) error {
	r := &jobRun{db: db, handler: handler, options: options.withDefaults(), stopping: ctx}
	client, err := r.client()
	if err != nil {
		return err
	}
	work := context.WithoutCancel(ctx) // so that stopping is done below, gently
	if err := client.Start(work); err != nil {
		return fmt.Errorf("begin to do jobs: %w", err)
	}
	<-ctx.Done()
	gentle, cancel := context.WithTimeout(work, r.options.Grace)
	defer cancel()
	if err := client.Stop(gentle); err == nil {
		return nil
	}
	hard, cancel := context.WithTimeout(work, r.options.Grace)
	defer cancel()
	if err := client.StopAndCancel(hard); err != nil {
		return fmt.Errorf("stop doing jobs: %w. What was under way is done again", err)
	}
	return nil
}

// jobRun is one call of RunJobs.
type jobRun struct {
	db       *DB
	handler  service.JobHandler
	options  JobOptions
	stopping context.Context // over when no more slices are wanted
}

func (r *jobRun) client() (*river.Client[*sql.Tx], error) {
	workers := river.NewWorkers()
	river.AddWorker(workers, &sliceWorker{run: r})
	river.AddWorker(workers, &watchWorker{run: r})
	var reindex river.PeriodicSchedule // nil: every midnight
	if r.db.dialect == migrations.SQLite {
		reindex = river.NeverSchedule() // it would keep acts waiting
	}
	client, err := river.NewClient(r.db.queue.driver, &river.Config{
		Logger:                      slog.New(warnings{r.options.Log.Handler()}),
		Queues:                      map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: r.options.Workers}},
		Workers:                     workers,
		FetchCooldown:               min(50*time.Millisecond, r.options.Poll),
		FetchPollInterval:           r.options.Poll,
		JobTimeout:                  r.timeout(),
		RescueStuckJobsAfter:        r.options.Rescue,
		CompletedJobRetentionPeriod: time.Hour, // what is worth keeping is in our own table
		DiscardedJobRetentionPeriod: 24 * time.Hour,
		RetryPolicy:                 retryPolicy{r.options.Retry},
		ReindexerSchedule:           reindex,
		PeriodicJobs: []*river.PeriodicJob{river.NewPeriodicJob(river.PeriodicInterval(r.options.Watch),
			func() (river.JobArgs, *river.InsertOpts) { return watchArgs{}, nil }, &river.PeriodicJobOpts{RunOnStart: true})},
	})
	if err != nil {
		return nil, fmt.Errorf("begin to do jobs: %w", err)
	}
	return client, nil
}

// timeout of a slice with what is around it: reading and storing.
func (r *jobRun) timeout() time.Duration {
	return min(r.options.Slice+15*time.Second, r.options.Rescue)
}

// warnings is a log without what the library says of its daily life.
type warnings struct{ slog.Handler }

func (w warnings) Enabled(ctx context.Context, level slog.Level) bool {
	return level >= slog.LevelWarn && w.Handler.Enabled(ctx, level)
}

type retryPolicy struct{ first time.Duration }

func (p retryPolicy) NextRetry(job *rivertype.JobRow) time.Time {
	wait := p.first << min(max(job.Attempt-1, 0), 16)
	return time.Now().Add(min(wait, longestRetry))
}

type sliceWorker struct {
	river.WorkerDefaults[sliceArgs]
	run *jobRun
}

// Work implements river.Worker.
func (w *sliceWorker) Work(ctx context.Context, job *river.Job[sliceArgs]) error {
	return w.run.slice(ctx, job)
}

// slice does the next slice of a job.
func (r *jobRun) slice(ctx context.Context, job *river.Job[sliceArgs]) error {
	for collisions := 0; ; collisions++ {
		row, ok, err := r.begin(ctx, job.Args)
		if err != nil || !ok {
			return err
		}
		err = r.step(ctx, job, row)
		switch {
		case err == nil:
			return nil
		case collides(err) && collisions < maxCollisions && r.stopping.Err() == nil:
			continue
		}
		return r.failed(ctx, row, err)
	}
}

// begin returns the row of a job of which a slice begins; false where there is nothing to do.
func (r *jobRun) begin(ctx context.Context, name sliceArgs) (row jobRow, ok bool, err error) {
	err = r.db.write(ctx, func(tx *gorm.DB) error {
		var found bool
		if row, found, err = r.db.lockedJob(tx, name.Name, name.Key); err != nil || !found {
			return err
		}
		now := tx.NowFunc()
		switch row.Status {
		case jobs.Done, jobs.Failed:
			return nil
		case jobs.Waiting:
			row.beginRun(now)
		}
		row.Slice++
		row.UpdatedAt = instantOf(now)
		if ok = row.Tries < maxTries; ok {
			row.Tries++
		} else { // the process was killed each time, perhaps by this
			row.fail(fmt.Sprintf("It broke off %d times, each time without a reason that could be told. Everything before that is stored. Look into the service's log, then ask for it again.", row.Tries), now)
		}
		return saveJob(tx, row)
	})
	if err == nil && ok && row.Cursor == "" {
		err = r.settle(ctx, row)
	}
	return row, ok && err == nil, err
}

// settle waits until all transactions have ended that may have found this run waiting and so have asked for no other
// one: it has to see what they store. If one of them goes on for long, the run begins without it and another one
// follows. On SQLite there are none: transactions that write come one after the other.
func (r *jobRun) settle(ctx context.Context, row jobRow) error {
	if r.db.dialect != migrations.Postgres {
		return nil
	}
	var next string
	if err := r.db.read(ctx).Raw("SELECT pg_snapshot_xmax(pg_current_snapshot())::text").Scan(&next).Error; err != nil {
		return fmt.Errorf("wait for acts under way: %w", err)
	}
	for until := time.Now().Add(min(longestSettle, r.options.Slice)); time.Now().Before(until); {
		var over bool
		if err := r.db.read(ctx).Raw("SELECT pg_snapshot_xmin(pg_current_snapshot()) >= ?::xid8", next).Scan(&over).Error; err != nil {
			return fmt.Errorf("wait for acts under way: %w", err)
		}
		if over {
			return nil
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(10 * time.Millisecond):
		}
	}
	err := ofJob(r.db.read(ctx).Model(&jobRow{}), row.Kind, row.Key).Where("asked = taken").Update("asked", gorm.Expr("asked + 1")).Error
	if err != nil {
		return fmt.Errorf("ask for job %s again: %w", row.Kind, err)
	}
	return nil
}

// errTakenOver: the slice has begun again elsewhere, because this process seemed to be dead.
var errTakenOver = errors.New("the slice was taken over")

// step does a slice that has begun, and stores what it leaves.
func (r *jobRun) step(ctx context.Context, job *river.Job[sliceArgs], row jobRow) error {
	step, err := r.do(ctx, row)
	if err != nil {
		return err
	}
	if err := checkStep(step); err != nil {
		return err
	}
	rows, err := rowsOf(step.Batch, review.EncodeChange)
	if err != nil {
		return err
	}
	goesOn := false
	err = r.db.write(ctx, func(tx *gorm.DB) error {
		// In the order of an act: what it changes, then jobs, then the queue.
		if err := r.db.store(tx, rows, step.Batch.Attach, step.Batch.Rests); err != nil {
			return err
		}
		goesOn, err = r.store(ctx, tx, job, row, step)
		return err
	})
	if err == nil {
		r.db.told(rows, goesOn)
	}
	return err
}

func (r *jobRun) do(ctx context.Context, row jobRow) (step service.JobStep, err error) {
	ctx, cancel := context.WithTimeout(ctx, r.options.Slice)
	defer cancel()
	defer func() {
		if fault := recover(); fault != nil {
			err = fmt.Errorf("a fault in the program: %v\n%s", fault, debug.Stack())
		}
	}()
	enough := time.Now().Add(r.options.Slice / 3)
	return r.handler.DoSlice(ctx, jobs.Slice{
		Job:    jobs.Job{Kind: jobs.Kind(row.Kind), Key: row.Key, Wanted: row.RunWanted, Args: jsonOrNil(row.RunArgs)},
		Cursor: jsonOrNil(row.Cursor), Done: row.Done, Total: row.Total, Try: row.Tries - 1, Newer: row.Asked > row.Taken,
		Stop: func() bool { return r.stopping.Err() != nil || time.Now().After(enough) },
	})
}

func checkStep(s service.JobStep) error {
	if len(s.Cursor) > jobs.MaxCursor || s.Cursor != nil && !json.Valid(s.Cursor) {
		return fmt.Errorf("the cursor has %d bytes, of at most %d, and must be JSON", len(s.Cursor), jobs.MaxCursor)
	}
	if s.Done < 0 || s.Total < 0 {
		return fmt.Errorf("%d done of %d", s.Done, s.Total)
	}
	return nil
}

// store stores progress, asks for what follows, and exchanges this slice in the queue for the next one. It says whether
// anything is to be done now.
func (r *jobRun) store(ctx context.Context, tx *gorm.DB, job *river.Job[sliceArgs], begun jobRow, step service.JobStep) (bool, error) {
	own := jobs.Job{Kind: jobs.Kind(begun.Kind), Key: begun.Key}
	var before, after []jobs.Job
	for _, j := range step.Batch.Jobs {
		switch order := byName(j, own); {
		case order < 0:
			before = append(before, j)
		case order > 0:
			after = append(after, j)
		default:
			return false, fmt.Errorf("job %s asks for itself: it says so by returning More", own.Kind)
		}
	}
	earlier, err := r.db.askAll(ctx, tx, before)
	if err != nil {
		return false, err
	}
	goesOn, err := r.advance(ctx, tx, job, begun, step)
	if err != nil {
		return false, err
	}
	later, err := r.db.askAll(ctx, tx, after)
	return earlier || goesOn || later, err
}

func (r *jobRun) advance(ctx context.Context, tx *gorm.DB, job *river.Job[sliceArgs], begun jobRow, step service.JobStep) (bool, error) {
	row, found, err := r.db.lockedJob(tx, begun.Kind, begun.Key)
	if err != nil {
		return false, err
	}
	if !found || row.Slice != begun.Slice {
		return false, errTakenOver
	}
	goesOn := row.store(step.Cursor, step.Done, step.Total, step.More, tx.NowFunc())
	if err := saveJob(tx, row); err != nil {
		return false, err
	}
	if _, err := river.JobCompleteTx[riverdriver.Driver[*sql.Tx]](ctx, sqlTx(tx), job); err != nil {
		return false, fmt.Errorf("take a slice of job %s from the queue: %w", row.Kind, err)
	}
	if !goesOn {
		return false, nil
	}
	return true, r.db.queue.insert(ctx, tx, row.Kind, row.Key)
}

// collides: another transaction was quicker, and the next try may well go through.
func collides(err error) bool {
	var fault *pgconn.PgError
	if errors.As(err, &fault) {
		return fault.Code == "40001" || fault.Code == "40P01" || fault.Code == "23505" // serialization, deadlock, duplicate key
	}
	return review.KindOf(err) == review.KindConflict || errors.Is(err, gorm.ErrDuplicatedKey)
}

// failed notes what went wrong with a slice, and returns what the library is to hear.
func (r *jobRun) failed(ctx context.Context, row jobRow, err error) error {
	if errors.Is(err, errTakenOver) {
		return err
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
	defer cancel()
	if r.stopping.Err() != nil && errors.Is(err, context.Canceled) {
		if err := r.note(ctx, row, func(now *jobRow, _ time.Time) { now.Tries-- }); err != nil {
			return err
		}
		return river.JobSnooze(0)
	}
	r.options.Log.Error("a job", "kind", row.Kind, "key", row.Key, "try", row.Tries, "error", err)
	given := row.Tries >= maxTries
	noted := r.note(ctx, row, func(now *jobRow, at time.Time) {
		now.Error, now.UpdatedAt = told(err, given), instantOf(at)
		if given {
			now.fail(now.Error, at)
		}
	})
	if noted == nil && given {
		return river.JobCancel(err)
	}
	return errors.Join(err, noted)
}

// note changes the row of a slice, unless it was taken over.
func (r *jobRun) note(ctx context.Context, begun jobRow, change func(now *jobRow, at time.Time)) error {
	return r.db.write(ctx, func(tx *gorm.DB) error {
		now, found, err := r.db.lockedJob(tx, begun.Kind, begun.Key)
		if err != nil || !found || now.Slice != begun.Slice {
			return err
		}
		change(&now, tx.NowFunc())
		return saveJob(tx, now)
	})
}

// told is an error as people read it. Faults of ours may hold what is not for them; those are in the log.
func told(err error, given bool) string {
	reason := "Something went wrong inside; the service's log says what."
	switch {
	case review.KindOf(err) != "":
		reason = err.Error()
	case errors.Is(err, context.DeadlineExceeded):
		reason = "A part of it took too long."
	}
	if given {
		return tellable(reason) + " It was given up. Everything before that is stored; ask for it again when the reason is gone."
	}
	return tellable(reason) + " It will be tried again by itself."
}

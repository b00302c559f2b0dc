package models

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/rivertype"
	"gorm.io/gorm"

	"revidit/review/service"
)

// watchArgs ask for a look at what is due.
type watchArgs struct{}

// Kind implements river.JobArgs.
func (watchArgs) Kind() string { return "watch" }

// InsertOpts implements river.JobArgsWithInsertOpts. One that failed is not tried again: the next one comes soon.
func (watchArgs) InsertOpts() river.InsertOpts {
	return river.InsertOpts{MaxAttempts: 1, Priority: 1, UniqueOpts: river.UniqueOpts{ByArgs: true, ByState: live}}
}

type watchWorker struct {
	river.WorkerDefaults[watchArgs]
	run *jobRun
}

// Work implements river.Worker: it asks for what is due, and puts slices into the queue that were lost from it.
func (w *watchWorker) Work(ctx context.Context, _ *river.Job[watchArgs]) error {
	ctx = service.Unhurried(ctx)
	err := errors.Join(w.run.askDue(ctx), w.run.requeue(ctx))
	if err != nil && w.run.stopping.Err() == nil {
		w.run.options.Log.Error("looking for jobs that are due", "error", err)
	}
	return err
}

func (r *jobRun) askDue(ctx context.Context) error {
	due, err := r.handler.DueJobs(ctx)
	if err != nil {
		return fmt.Errorf("find jobs that are due: %w", err)
	}
	for _, j := range due {
		asked := false
		err := r.db.write(ctx, func(tx *gorm.DB) error {
			asked, err = r.db.askDue(ctx, tx, j)
			return err
		})
		if err != nil {
			return err
		}
		if asked {
			r.db.queue.wake()
		}
	}
	return nil
}

// AtWork says whether a program that serves this database is at work, which is one that does its jobs: it has said so within
// the last fifteen seconds, and takes that back when it stops. One that was killed is found for so long.
func (db *DB) AtWork(ctx context.Context, now time.Time) (bool, error) {
	leader, err := db.queue.plain.GetExecutor().LeaderGetElectedLeader(ctx, &riverdriver.LeaderGetElectedLeaderParams{})
	if errors.Is(err, rivertype.ErrNotFound) {
		return false, nil
	}
	if err != nil {
		return false, fmt.Errorf("look whether the database is served: %w", err)
	}
	return leader.ExpiresAt.After(now), nil
}

// requeue puts the next slice of each unfinished job into the queue, where it is already unless somebody removed it.
func (r *jobRun) requeue(ctx context.Context) error {
	var rows []jobRow
	if err := r.db.read(ctx).Select("kind", "key").Where("finished_at IS NULL").Find(&rows).Error; err != nil {
		return fmt.Errorf("find unfinished jobs: %w", err)
	}
	for _, row := range rows {
		err := r.db.write(ctx, func(tx *gorm.DB) error { return r.db.queue.insert(tx, row.Kind, row.Key) })
		if err != nil {
			return err
		}
	}
	return nil
}

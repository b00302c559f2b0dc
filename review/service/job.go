package service

import (
	"context"
	"encoding/json"

	"revidit/review"
	"revidit/review/jobs"
)

// JobHandler knows what jobs are to do. Its methods are called by several goroutines.
type JobHandler interface {
	// DoSlice does a part of a job and returns what to store of it. ctx ends when the slice has taken far too long. It
	// stores nothing itself but what may be done twice. A KindConflict error, or one from storing the batch, is followed
	// by another try at once, any other error by one some time later.
	DoSlice(ctx context.Context, slice jobs.Slice) (JobStep, error)
	// DueJobs are the jobs that what is stored tells to be necessary, whether anybody has asked for them or not.
	DueJobs(ctx context.Context) ([]jobs.Job, error)
}

// JobStep is what a slice of a job leaves. It is stored whole or not at all.
type JobStep struct {
	Batch  review.Batch
	Cursor json.RawMessage // for the next slice; JSON of at most jobs.MaxCursor bytes, nil at the end
	// Done of Total, in whatever the job counts; Total is 0 where it is not known.
	Done, Total int
	More        bool // another slice is needed
}

package service

import (
	"context"
	"fmt"
	"time"

	"revidit/review"
	"revidit/review/jobs"
)

const (
	// checkEvery is how often the database is checked, besides when a process begins.
	checkEvery = 24 * time.Hour
	// problemsKept is how many problems are kept: the first says that a backup is needed.
	problemsKept = 20
)

// checking is the cursor of the job.
type checking struct {
	After   string         `json:"after"`
	Checked review.Checked `json:"checked"`
	meter
}

// checkSlice goes on through the parts of what is stored.
func (s *Service) checkSlice(ctx context.Context, slice jobs.Slice) (JobStep, error) {
	var at checking
	if err := decodeCursor(slice, &at); err != nil {
		return JobStep{}, err
	}
	at.begin()
	more, err := s.check(ctx, slice, &at)
	if err != nil {
		return JobStep{}, err
	}
	at.end()
	step := JobStep{Done: at.Checked.Parts, More: more}
	if more {
		step.Cursor, err = encode(at)
		return step, err
	}
	if len(at.Checked.Problems) > 0 {
		s.log.Error("the database is damaged: restore a backup", "tables", at.Checked.Parts, "problems", at.Checked.Problems)
	} else if at.Checked.Parts > 0 {
		s.log.Info("the database was checked and is sound", "tables", at.Checked.Parts)
	}
	mark, err := at.made(review.FoundChecked, "", "", s.moment(itself).Now, at.Checked)
	step.Batch.Found = []review.Found{mark}
	return step, err
}

func (s *Service) check(ctx context.Context, slice jobs.Slice, at *checking) (more bool, err error) {
	for {
		part, problems, err := s.store.CheckPart(ctx, at.After)
		if err != nil || part == "" {
			return false, err
		}
		at.After = part
		at.Checked.Parts++
		for _, p := range problems {
			if len(at.Checked.Problems) < problemsKept {
				at.Checked.Problems = append(at.Checked.Problems, fmt.Sprintf("%s: %s", part, p))
			}
		}
		if slice.Enough() {
			return true, nil
		}
	}
}

// checkDue: this process has just begun, or the last check was a day ago.
func (s *Service) checkDue(ctx context.Context) ([]jobs.Job, error) {
	if !s.checked.Swap(true) {
		return []jobs.Job{jobs.Check()}, nil
	}
	return s.dueAfter(ctx, review.FoundChecked, checkEvery, jobs.Check())
}

// Checked is what the last check of the database has found, for those who may read the figures; zero where there was none.
func (s *Service) Checked(ctx context.Context, actor review.Actor) (review.Checked, error) {
	if !review.May(actor, review.ActReadFigures, "") {
		return review.Checked{}, review.Forbidden(actor, review.ActReadFigures, "")
	}
	var checked review.Checked
	found, err := s.found(ctx, review.FoundChecked, "", "", &checked)
	if err != nil || found.Made == nil {
		return review.Checked{}, err
	}
	checked.At = found.Made.At
	return checked, nil
}

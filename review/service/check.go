package service

import (
	"context"
	"errors"
	"strconv"
	"time"

	"revidit/review"
	"revidit/review/jobs"
	"revidit/review/proof"
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
	// Tables: all parts were checked; Tree: the tree of all was held against the newest checkpoint; Leaves is up to which position events
	// were held against it.
	Tables bool  `json:"tables"`
	Tree   bool  `json:"tree"`
	Leaves int64 `json:"leaves"`
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
	if err == nil && !more {
		more, err = s.checkLog(ctx, slice, &at)
	}
	if err == nil && !more {
		err = s.checkPast(ctx, &at)
	}
	if err != nil {
		return JobStep{}, err
	}
	at.end()
	step := JobStep{Done: at.Checked.Parts, More: more}
	if more {
		step.Cursor, err = encode(at)
		return step, err
	}
	if !at.Checked.Sound() {
		s.log.Error("the database is damaged, or something was changed that never is: look what a backup has", "tables", at.Checked.Parts, "problems", at.Checked.Damages)
	} else if at.Checked.Parts > 0 {
		s.log.Info("the database was checked and is sound", "tables", at.Checked.Parts)
	}
	if len(at.Checked.Otherwise) > 0 {
		s.log.Error("what was assessed in the past comes out otherwise now: the program, the tables or the history is not what it was", "differs", at.Checked.Otherwise, "remade", at.Checked.Remade)
	}
	mark, err := at.made(review.FoundChecked, "", "", s.moment(itself).Now, at.Checked)
	step.Batch.Found = []review.Found{mark}
	return step, err
}

func (s *Service) check(ctx context.Context, slice jobs.Slice, at *checking) (more bool, err error) {
	for !at.Tables {
		part, problems, err := s.store.CheckPart(ctx, at.After)
		if err != nil {
			return false, err
		}
		if at.Tables = part == ""; at.Tables {
			return false, nil
		}
		at.After = part
		at.Checked.Parts++
		for _, p := range problems {
			at.note(p)
		}
		if slice.Enough() {
			return true, nil
		}
	}
	return false, nil
}

func (at *checking) note(damage review.Coded) {
	if len(at.Checked.Damages) < problemsKept {
		at.Checked.Damages = append(at.Checked.Damages, damage)
	}
}

func digits(n int64) string { return strconv.FormatInt(n, 10) }

// checkLog holds events against the hashes that the tree of all has of them, and the tree against the newest checkpoint: what was altered
// since it was signed is named. Once a day it holds every event; a process that begins in between goes on from where the last
// check has ended, so that starting takes no longer in a long history.
func (s *Service) checkLog(ctx context.Context, slice jobs.Slice, at *checking) (more bool, err error) {
	tree, err := s.store.LogTree(ctx)
	if err != nil {
		return false, err
	}
	if !at.Tree {
		if at.Tree, err = s.checkTree(ctx, tree, at); !at.Tree {
			return false, err
		}
	}
	for at.Leaves < tree.Size {
		if err := s.checkLeaves(ctx, tree, at); err != nil {
			return false, err
		}
		if slice.Enough() {
			return true, nil
		}
	}
	at.Checked.Held = at.Leaves
	return false, nil
}

// checkTree says whether events can be held against the tree, and from where on.
func (s *Service) checkTree(ctx context.Context, tree proof.Tree, at *checking) (bool, error) {
	_, err := s.continued(ctx, tree)
	if errors.Is(err, proof.ErrAltered) {
		at.note(review.Code("found-tree", "size", digits(tree.Size))) // the log says more
		return false, nil                                             // hashes that are not what was signed tell nothing
	}
	if err != nil {
		return false, err
	}
	var last review.Checked
	if _, err := s.found(ctx, review.FoundChecked, "", "", &last); err != nil {
		return false, err
	}
	now := s.moment(itself).Now
	at.Checked.Whole = now
	if age := now.Sub(last.Whole); age >= 0 && age < checkEvery && last.Sound() && at.Checked.Sound() && last.Held <= tree.Size {
		at.Leaves, at.Checked.Whole = last.Held, last.Whole
	}
	return true, nil
}

// checkLeaves goes on with the next events.
func (s *Service) checkLeaves(ctx context.Context, tree proof.Tree, at *checking) error {
	const ofOneTile = 256
	count := min(ofOneTile, tree.Size-at.Leaves)
	hashes, err := tree.LeafHashes(at.Leaves, int(count))
	if errors.Is(err, proof.ErrAltered) {
		at.note(review.Code("found-hashes", "from", digits(at.Leaves+1), "to", digits(at.Leaves+count)))
		at.Leaves += count
		return nil
	}
	if err != nil {
		return err
	}
	leaves, err := s.store.LeavesAfter(ctx, at.Leaves, int(count))
	if err != nil {
		return err
	}
	for i, h := range hashes {
		position := at.Leaves + int64(i) + 1
		if i >= len(leaves) || leaves[i].Position != position {
			at.note(review.Code("found-gone", "position", digits(position)))
			break
		}
		line, err := leaves[i].Line()
		if err != nil || proof.LeafHash(line) != h {
			at.note(review.Code("found-altered", "seq", strconv.Itoa(leaves[i].Seq), "stream", leaves[i].Stream, "position", digits(position)))
		}
	}
	at.Leaves += count
	return nil
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

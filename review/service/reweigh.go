package service

import (
	"context"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/jobs"
)

const (
	// reweighedAtOnce rows are read at once, and weighed by all cores; fewer where somebody else was quicker.
	reweighedAtOnce = 4000
	// reweighedASlice rows are one slice where nobody says when it is enough: a few seconds' work.
	reweighedASlice = 300_000
	// reweighedByOne rows are taken by one core at a time, so that none is left waiting for another one.
	reweighedByOne = 64
)

// reweighed is a reassessment under way, as it stands in its finding: whoever goes on with it finds everything there.
type reweighed struct {
	review.Reassessment
	After string `json:"after,omitempty"` // last specimen
	Rows  int    `json:"rows"`            // gone through
	Total int    `json:"total"`
	Meter meter  `json:"meter"`
}

// reweighSlice goes on with a reassessment. What it has found and where it stands are stored together, so that one that was broken off
// goes on where it was, in whatever process.
func (s *Service) reweighSlice(ctx context.Context, slice jobs.Slice) (JobStep, error) {
	args, err := jobs.Decode[jobs.Reweighed](slice.Job)
	if err != nil {
		return JobStep{}, err
	}
	found, err := s.store.Found(ctx, review.FoundReassessment, args.Group, args.Key)
	if err != nil {
		return JobStep{}, err
	}
	var at reweighed
	if found.Partial == nil || !s.reads(&found, found.DecodePartial, &at) {
		return JobStep{}, nil // it is made, or nobody asks for it any more
	}
	scales, err := s.reweigher(ctx, args.Key, at.Of)
	if err != nil {
		return JobStep{}, err
	}
	if at.Rows == 0 {
		if complete, err := s.completeGrounds(ctx, slice); err != nil || !complete {
			return JobStep{More: true, Cursor: []byte("{}")}, err
		}
		if at.Total, err = s.store.CountGrounds(ctx); err != nil {
			return JobStep{}, err
		}
	}
	batch := &review.TouchedBatch{Change: args.Key, Anew: at.Rows == 0}
	at.Meter.begin()
	more, err := s.reweigh(ctx, slice, scales, &at, batch)
	if err != nil {
		return JobStep{}, err
	}
	at.Meter.end()
	now := s.moment(itself).Now
	found.TouchedAt = now
	step := JobStep{Done: at.Rows, Total: max(at.Total, at.Rows), More: more, Batch: review.Batch{Touched: batch}}
	if more {
		step.Cursor = []byte("{}") // everything stands in the finding
		found.Partial, err = encode(at)
	} else {
		at.Finish()
		found, err = at.Meter.made(review.FoundReassessment, args.Group, args.Key, now, at.Reassessment)
	}
	step.Batch.Found = []review.Found{found}
	return step, err
}

// completeGrounds makes what is read for what was submitted before there was any, and says whether all has been made.
func (s *Service) completeGrounds(ctx context.Context, slice jobs.Slice) (bool, error) {
	for {
		made, err := s.store.CompleteGrounds(ctx)
		if err != nil || made == 0 {
			return err == nil, err
		}
		if slice.Enough() {
			return false, nil
		}
	}
}

// groundsPage is a page of grounds as it was read.
type groundsPage struct {
	rows []review.Grounds
	next string
	err  error
}

// reweigh weighs page after page until the slice has taken its time. The next page is read while one is weighed.
func (s *Service) reweigh(ctx context.Context, slice jobs.Slice, scales *review.Reweigher, at *reweighed, batch *review.TouchedBatch) (more bool, err error) {
	ctx, stop := context.WithCancel(ctx)
	size := max(reweighedAtOnce>>slice.Try, 1)
	pages, done := make(chan groundsPage, 1), make(chan struct{})
	defer func() { stop(); <-done }()
	go func(after string) {
		defer close(done)
		defer close(pages)
		for {
			var p groundsPage
			p.rows, p.next, p.err = s.store.FindGrounds(ctx, after, size)
			select {
			case pages <- p:
			case <-ctx.Done():
				return
			}
			if after = p.next; p.err != nil || p.next == "" {
				return
			}
		}
	}(at.After)
	w := newWeighing(scales, at.Of.Group)
	for rows := 0; ; {
		p := <-pages
		if p.err != nil {
			return false, p.err
		}
		w.weigh(p.rows, at, batch, s)
		rows += len(p.rows)
		at.Rows, at.After = at.Rows+len(p.rows), p.next
		at.Meter.look()
		if p.next == "" {
			return false, nil
		}
		if slice.Enough() || slice.Stop == nil && rows >= reweighedASlice {
			return true, nil
		}
	}
}

// weighing are as many who weigh as there are cores, each with memory of its own.
type weighing struct {
	group   string
	workers []weigher
	shares  []share
}

type weigher struct {
	*review.Balance
	reader   *review.GroundsReader
	siblings []review.Submission
}

// share is a part of a page, and what was found of it.
type share struct {
	rows   []review.Grounds
	found  [][]review.Touched // of each settled determination that was weighed
	same   int                // of those that stay as they are for certain
	unread []string
}

func newWeighing(scales *review.Reweigher, group string) *weighing {
	w := &weighing{group: group, workers: make([]weigher, runtime.GOMAXPROCS(0))}
	for i := range w.workers {
		w.workers[i].Balance, w.workers[i].reader = scales.Balance(), review.NewGroundsReader()
	}
	return w
}

// weigh weighs a page, of which whoever is free takes the next share, and takes in what was found, in the order of the page.
func (w *weighing) weigh(rows []review.Grounds, at *reweighed, batch *review.TouchedBatch, s *Service) {
	w.cut(rows)
	var all sync.WaitGroup
	var taken atomic.Int64
	for i := range w.workers {
		all.Go(func() {
			for next := taken.Add(1); int(next) <= len(w.shares); next = taken.Add(1) {
				w.workers[i].weigh(w.group, &w.shares[next-1])
			}
		})
	}
	all.Wait()
	for i := range w.shares {
		of := &w.shares[i]
		at.Looked, at.Same = at.Looked+of.same, at.Same+of.same
		for _, found := range of.found {
			at.Looked++
			at.Add(found)
			batch.Rows = append(batch.Rows, found...)
		}
		if len(of.unread) > 0 {
			unread := s.unread()
			unread.streams = at.Unread
			for _, stream := range of.unread {
				unread.add(stream)
			}
			at.Unread = unread.streams
		}
	}
}

// cut makes shares of whole specimens of a page, over the memory of the last one's.
func (w *weighing) cut(rows []review.Grounds) {
	n := 0
	for ; len(rows) > 0; n++ {
		w.shares = slices.Grow(w.shares[:n], 1)[:n+1]
		end := wholeSpecimens(rows, min(reweighedByOne, len(rows)))
		of := &w.shares[n]
		of.rows, of.found, of.same, of.unread = rows[:end], of.found[:0], 0, of.unread[:0]
		rows = rows[end:]
	}
	w.shares = w.shares[:n]
}

// wholeSpecimens moves a place on to where the next specimen begins.
func wholeSpecimens(rows []review.Grounds, at int) int {
	for at > 0 && at < len(rows) && rows[at].Specimen == rows[at-1].Specimen {
		at++
	}
	return at
}

// weigh weighs the settled determinations of whole specimens.
func (w *weigher) weigh(group string, of *share) {
	for rows := of.rows; len(rows) > 0; {
		n := wholeSpecimens(rows, 1)
		w.specimen(group, rows[:n], of)
		rows = rows[n:]
	}
}

// eachSettled calls visit for each settled determination of a group among the rows of one specimen, with what nobody may have told
// yet left out of its siblings, for which there is memory that is used again.
func eachSettled(r *review.GroundsReader, siblings *[]review.Submission, group string, rows []review.Grounds, visit func(*review.Submission, *review.Specimen, []review.Submission)) error {
	if len(rows) < 2 {
		return nil // nothing of it came before reviewers
	}
	spec, err := r.Specimen(&rows[0])
	if err != nil {
		return err
	}
	closed, settled := (*siblings)[:0], false
	for i := range rows[1:] {
		sub, err := r.Submission(&rows[1+i])
		if err != nil {
			return err
		}
		settled = settled || sub.Status == review.StatusConfirmed && sub.Group == group
		if sub.Closed() { // what is said of others is sealed
			closed = append(closed, sub)
		}
	}
	*siblings = closed
	if !settled {
		return nil
	}
	review.InOrder(closed)
	for i := range closed {
		if closed[i].Status == review.StatusConfirmed && closed[i].Group == group {
			visit(&closed[i], &spec, closed)
		}
	}
	return nil
}

func (w *weigher) specimen(group string, rows []review.Grounds, of *share) {
	err := eachSettled(w.reader, &w.siblings, group, rows, func(s *review.Submission, spec *review.Specimen, siblings []review.Submission) {
		found, same := w.Weigh(s, spec, siblings)
		if same {
			of.same++
			return
		}
		of.found = append(of.found, found)
	})
	if err != nil {
		of.unread = append(of.unread, review.SpecimenStream(rows[0].Specimen))
	}
}

// Bare is a posterior that is to be worked out.
type Bare struct {
	Model    *confidence.Model
	Evidence confidence.Evidence
}

// BareOf calls visit with what the posteriors of the settled determinations among some grounds take, by what a question is weighed by:
// for measurements of what these alone cost.
func (s *Service) BareOf(ctx context.Context, group, key string, rows []review.Grounds, visit func(Bare)) error {
	found, err := s.store.Found(ctx, review.FoundReassessment, group, key)
	if err != nil {
		return err
	}
	var at reweighed
	if found.Partial != nil {
		err = found.DecodePartial(&at)
	} else {
		err = found.Decode(&at.Reassessment)
	}
	if err != nil {
		return err
	}
	scales, err := s.reweigher(ctx, key, at.Of)
	if err != nil {
		return err
	}
	reader, balance, siblings := review.NewGroundsReader(), scales.Balance(), []review.Submission{}
	for len(rows) > 0 && err == nil {
		n := wholeSpecimens(rows, 1)
		err = eachSettled(reader, &siblings, group, rows[:n], func(s *review.Submission, spec *review.Specimen, siblings []review.Submission) {
			was, will, before, after := balance.Bare(s, spec, siblings)
			visit(Bare{Model: before.Judge().Model(), Evidence: before.Weighed(&was)})
			visit(Bare{Model: after.Judge().Model(), Evidence: after.Weighed(&will)})
		})
		rows = rows[n:]
	}
	return err
}

package service

import (
	"context"
	"strconv"
	"strings"
	"time"

	"revidit/review"
	"revidit/review/audit"
	"revidit/review/confidence"
	"revidit/review/jobs"
)

// refitTogether is how many specimens a refit weighs together at most. Of up to so many it is exact. More are weighed in
// parts of equal size, the earliest closed first, each with what the parts before have told: what that differs by is far
// below any standard error (confidence.Reliability.Add), and memory and the time of a slice have a bound.
const refitTogether = 3_000

// RefitEvery is how old a refit may get while something new has been learnt.
const RefitEvery = 24 * time.Hour

// Refit asks for all reports on a group to be weighed together anew, and returns what is known by then: the new snapshot
// already where there is little to weigh.
func (s *Service) Refit(ctx context.Context, actor review.Actor, group string) (review.Reliability, error) {
	if !review.May(actor, review.ActRefit, "") {
		return review.Reliability{}, review.Forbidden(actor, review.ActRefit, "")
	}
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return review.Reliability{}, err
	}
	id := judge.Tables().Group.ID
	job := jobs.Refit(id)
	small, err := s.small(ctx, id)
	if err != nil {
		return review.Reliability{}, err
	}
	if small {
		err = s.Do(ctx, job, nil)
	} else {
		err = s.ask(ctx, job)
	}
	if err != nil {
		return review.Reliability{}, err
	}
	return s.reliability(ctx, id)
}

// small says whether the closed specimens of a group can be looked through at once.
func (s *Service) small(ctx context.Context, group string) (bool, error) {
	return s.store.FewTestimonies(ctx, group, atOnce)
}

// refitting is the cursor of a refit. What it has found so far stands in a review.Found, since it may be large.
type refitting struct {
	Through time.Time `json:"through"` // what was closed by then takes part
	Size    int       `json:"size"`    // of a part, in specimens
	After   string    `json:"after"`   // cursor of FindTestimonies
	Unread  []string  `json:"unread,omitempty"`
	meter
}

// refitSlice weighs one part. The snapshot changes at the end alone, so that one that breaks off changes nothing. A
// specimen whose last submission is closed by a request that began before the refit and is stored behind its back is
// taken in by the next one.
func (s *Service) refitSlice(ctx context.Context, slice jobs.Slice) (JobStep, error) {
	args, err := jobs.Decode[jobs.Group](slice.Job)
	if err != nil {
		return JobStep{}, err
	}
	if done, err := s.complete(ctx, slice); err != nil || !done {
		return JobStep{Cursor: slice.Cursor, Done: slice.Done, Total: slice.Total, More: true}, err
	}
	judge, err := s.Judge(ctx, args.Group)
	if err != nil {
		return JobStep{}, err
	}
	group, m := judge.Tables().Group.ID, s.moment(itself)
	at := refitting{Through: m.Now}
	var sofar review.Reliability
	goesOn := slice.Cursor != nil
	if goesOn {
		if goesOn, err = s.foundSoFar(ctx, review.FoundRefit, group, "", &sofar); err != nil {
			return JobStep{}, err
		}
	}
	if !goesOn {
		count, err := s.store.CountTestimonies(ctx, group)
		if err != nil {
			return JobStep{}, err
		}
		slice.Total = count.Closed
		at.Size = partOf(count.Closed)
		if count.Latest.After(at.Through) { // by a process whose clock is fast
			at.Through = count.Latest
		}
	} else if err := decodeCursor(slice, &at); err != nil {
		return JobStep{}, err
	}
	at.begin()
	unread := s.unread()
	unread.streams = at.Unread
	part, next, err := s.store.FindTestimonies(ctx, TestimonyFilter{Group: group, Through: at.Through, Unread: unread.add}, Page{Size: max(at.Size>>slice.Try, 1), Cursor: at.After})
	if err != nil {
		return JobStep{}, err
	}
	known, err := s.reliability(ctx, group)
	if err != nil {
		return JobStep{}, err
	}
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return JobStep{}, err
	}
	sofar, err = audit.RefitFurther(judge, known, sofar, part, policy.Prior(judge.Tables()))
	if err != nil {
		return JobStep{}, err
	}
	at.end()
	at.Unread = unread.streams
	step := JobStep{Done: sofar.Specimens, Total: max(slice.Total, sofar.Specimens), More: next != ""}
	if step.More {
		at.After = next
		partial, err := encode(sofar)
		if err != nil {
			return JobStep{}, err
		}
		step.Batch.Found = []review.Found{{Kind: review.FoundRefit, Group: group, TouchedAt: m.Now, Partial: partial}}
		step.Cursor, err = encode(at)
		return step, err
	}
	step.Batch, err = s.refitted(m, known, sofar, at)
	return step, err
}

// partOf is the size of the parts of equal size, at most refitTogether, into which n specimens are cut.
func partOf(n int) int {
	parts := (n + refitTogether - 1) / refitTogether
	if parts <= 1 {
		return refitTogether
	}
	return (n + parts - 1) / parts
}

// refitted makes the next snapshot. What was closed since the refit began is to be learnt from again.
func (s *Service) refitted(m review.Moment, known, fitted review.Reliability, at refitting) (review.Batch, error) {
	m = m.NotBefore(known.At)
	fitted.Group, fitted.Version, fitted.At, fitted.Refitted = known.Group, known.Version+1, m.Now, at.Through
	if len(at.Unread) > 0 {
		const named = 10
		fitted.Warnings = append(fitted.Warnings, confidence.Of(confidence.LeftOut, strconv.Itoa(len(at.Unread))+":"+strings.Join(at.Unread[:min(named, len(at.Unread))], ", ")))
	}
	w := review.NewWriter(m)
	if err := w.Reliability(&known, &review.ReliabilityRefitted{Reliability: fitted}); err != nil {
		return review.Batch{}, err
	}
	batch := w.Finished()
	made, err := at.made(review.FoundRefit, known.Group, "", m.Now, struct{}{})
	batch.Found, batch.Jobs = []review.Found{made}, []jobs.Job{jobs.Learn(known.Group)}
	return batch, err
}

// refitDue: something was learnt since a refit that is older than RefitEvery.
func (s *Service) refitDue(ctx context.Context, group, _ string) ([]jobs.Job, error) {
	known, err := s.reliability(ctx, group)
	if err != nil || len(known.Added) == 0 || s.now().Sub(known.Refitted) < RefitEvery {
		return nil, err
	}
	return []jobs.Job{jobs.Refit(group)}, nil
}

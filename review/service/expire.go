package service

import (
	"context"
	"time"

	"revidit/review"
	"revidit/review/jobs"
)

// How long is kept what somebody once waited for.
const (
	// expireEvery is how often it is looked for.
	expireEvery = 24 * time.Hour
	// uploadsKept is how long an upload waits for a draft or a specimen: whoever takes longer over a form uploads again.
	uploadsKept = 24 * time.Hour
	// keysKept is how long the same request may come twice: a client that lost the answer sends again within minutes, one
	// without a network, on a trip, within days.
	keysKept = 7 * 24 * time.Hour
	// jobsKept is how long it is told how a job has ended. A preview leaves one for each change that was looked at, and what
	// it has found is kept as long.
	jobsKept = 30 * 24 * time.Hour
)

// newsKept is how long news is kept, read or not: what it tells of stays in the history.
const newsKept = 365 * 24 * time.Hour

// lettersKept is how long it is known what has become of a letter, longer than it is tried.
const lettersKept = 30 * 24 * time.Hour

// linksKept is how long a link of an account is kept that nobody can follow any more, with the name and the address in it.
const linksKept = 24 * time.Hour

// expiring is the cursor of the job.
type expiring struct {
	Gone int `json:"gone"` // rows
	meter
}

// expireSlice removes what is past its time. It does so at once, past the batch: whoever does it twice finds nothing the
// second time, nothing else has to be stored together with it, and so no act can come to carry anything that deletes.
func (s *Service) expireSlice(ctx context.Context, slice jobs.Slice) (JobStep, error) {
	var at expiring
	if err := decodeCursor(slice, &at); err != nil {
		return JobStep{}, err
	}
	at.begin()
	if err := s.receiver.clean(); err != nil {
		return JobStep{}, err
	}
	more, err := s.expire(ctx, slice, &at)
	if err != nil {
		return JobStep{}, err
	}
	at.end()
	step := JobStep{Done: at.Gone, More: more}
	if more {
		step.Cursor, err = encode(at)
		return step, err
	}
	mark, err := at.made(review.FoundExpired, "", "", s.moment(itself).Now, at.Gone)
	step.Batch.Found = []review.Found{mark}
	return step, err
}

func (s *Service) expire(ctx context.Context, slice jobs.Slice, at *expiring) (more bool, err error) {
	now := s.now()
	past := Expiry{Uploads: now.Add(-uploadsKept), Keys: now.Add(-keysKept), Forms: now.Add(-formsKept), News: now.Add(-newsKept), Letters: now.Add(-lettersKept), Links: now.Add(-linksKept), Jobs: now.Add(-jobsKept), Sessions: now}
	for {
		gone, err := s.store.Expire(ctx, past)
		at.Gone += gone
		if err != nil || gone == 0 || slice.Enough() {
			return gone > 0, err
		}
	}
}

// expireDue: it was last looked a day ago, or never.
func (s *Service) expireDue(ctx context.Context) ([]jobs.Job, error) {
	return s.dueAfter(ctx, review.FoundExpired, expireEvery, jobs.Expire())
}

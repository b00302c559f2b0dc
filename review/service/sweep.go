package service

import (
	"context"
	"time"

	"revidit/review"
	"revidit/review/jobs"
)

const (
	// sweepEvery is how often photo files are swept.
	sweepEvery = 24 * time.Hour
	// strayAfter is how old bytes must be that no photo names: an upload puts its bytes first and its row a moment later.
	strayAfter = 24 * time.Hour
	// asideFor is how long what was set aside can be had back.
	asideFor = 30 * 24 * time.Hour
	// sweptAtOnce is how many names are looked up in one query.
	sweptAtOnce = 1000
)

// Swept is what a walk through photo files has done, in files.
type Swept struct {
	Looked   int `json:"looked"`
	SetAside int `json:"set_aside"`
	PutBack  int `json:"put_back"`
	Removed  int `json:"removed"` // of those set aside long ago
	// NoPhotos: the database knew no photo at all, as that of another club would, so everything was left as it was.
	NoPhotos bool `json:"no_photos,omitempty"`
}

// sweeping is the cursor of the job: first through what is stored, then through what was set aside.
type sweeping struct {
	Aside bool   `json:"aside"`
	After string `json:"after"`
	Swept Swept  `json:"swept"`
	meter
}

// sweepSlice goes on through the photo files. It moves and removes them at once, past the batch: that is no part of a
// transaction, and whoever does it twice finds nothing the second time.
func (s *Service) sweepSlice(ctx context.Context, slice jobs.Slice) (JobStep, error) {
	var at sweeping
	if err := decodeCursor(slice, &at); err != nil {
		return JobStep{}, err
	}
	at.begin()
	more, err := s.sweep(ctx, slice, &at)
	if err != nil {
		return JobStep{}, err
	}
	at.end()
	step := JobStep{Done: at.Swept.Looked, More: more}
	if more {
		step.Cursor, err = encode(at)
		return step, err
	}
	mark, err := at.made(review.FoundSwept, "", "", s.moment(itself).Now, at.Swept)
	step.Batch.Found = []review.Found{mark}
	return step, err
}

// sweep goes on until all is swept or the slice has taken its time, and says whether anything is left.
func (s *Service) sweep(ctx context.Context, slice jobs.Slice, at *sweeping) (bool, error) {
	known, err := s.store.AnyPhoto(ctx)
	if err != nil {
		return false, err
	}
	if at.Swept.NoPhotos = !known; !known {
		return false, nil
	}
	for {
		more, err := s.sweepNext(ctx, at)
		if err != nil || !more || slice.Enough() {
			return more, err
		}
	}
}

// sweepNext sweeps the next names, and says whether there can be others.
func (s *Service) sweepNext(ctx context.Context, at *sweeping) (bool, error) {
	list := s.blobs.Stored
	if at.Aside {
		list = s.blobs.StoredAside
	}
	names, err := list(ctx, at.After, sweptAtOnce)
	if err != nil {
		return false, err
	}
	if len(names) == 0 {
		more := !at.Aside
		at.Aside, at.After = true, ""
		return more, nil
	}
	// Names first, rows then: of a photo that is uploaded meanwhile the bytes are too new to be taken away.
	named, unnamed, err := s.namedPhotos(ctx, names)
	if err != nil {
		return false, err
	}
	at.After = names[len(names)-1]
	at.Swept.Looked += len(names)
	return true, s.takeAway(ctx, at, named, unnamed)
}

// namedPhotos divides names of bytes into those of photos that a row names and all others.
func (s *Service) namedPhotos(ctx context.Context, names []string) (named, unnamed []string, err error) {
	var digests []string
	for _, name := range names {
		if digest := photoHash(name); digest != "" && (len(digests) == 0 || digests[len(digests)-1] != digest) {
			digests = append(digests, digest)
		}
	}
	known, err := s.store.KnownPhotos(ctx, digests)
	if err != nil {
		return nil, nil, err
	}
	for _, name := range names {
		if known[photoHash(name)] {
			named = append(named, name)
		} else {
			unnamed = append(unnamed, name)
		}
	}
	return named, unnamed, nil
}

// takeAway counts what it has done even where it fails.
func (s *Service) takeAway(ctx context.Context, at *sweeping, named, unnamed []string) error {
	now := s.now()
	if !at.Aside {
		n, err := s.blobs.SetAside(ctx, unnamed, now.Add(-strayAfter))
		at.Swept.SetAside += n
		return err
	}
	n, err := s.blobs.PutBack(ctx, named)
	at.Swept.PutBack += n
	if err != nil {
		return err
	}
	n, err = s.blobs.Discard(ctx, unnamed, now.Add(-asideFor))
	at.Swept.Removed += n
	return err
}

// sweepDue: files were last swept a day ago, or never.
func (s *Service) sweepDue(ctx context.Context) ([]jobs.Job, error) {
	return s.dueAfter(ctx, review.FoundSwept, sweepEvery, jobs.SweepPhotos())
}

// dueAfter is a job that leaves a mark at its end, where that is too old or there is none.
func (s *Service) dueAfter(ctx context.Context, mark review.FoundKind, every time.Duration, job jobs.Job) ([]jobs.Job, error) {
	found, err := s.store.Found(ctx, mark, "", "")
	if err != nil || found.Made != nil && s.now().Sub(found.Made.At) < every {
		return nil, err
	}
	return []jobs.Job{job}, nil
}

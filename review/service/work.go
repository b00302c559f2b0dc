package service

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"runtime/metrics"
	"time"

	"revidit/review"
	"revidit/review/jobs"
)

var _ JobHandler = (*Service)(nil)

// atOnce is how many specimens or determinations are looked through while somebody waits. What a larger collection holds is
// found by a job.
const atOnce = 200

// itself is the program where it acts on its own account: no person, so that nobody is said to have done it.
var itself = review.Actor{Person: review.ProgramActor, Name: ProgramName, Role: review.RoleCurator}

// DoSlice implements JobHandler.
func (s *Service) DoSlice(ctx context.Context, slice jobs.Slice) (JobStep, error) {
	switch slice.Kind {
	case jobs.KindLearn:
		return s.learnSlice(ctx, slice)
	case jobs.KindRefit:
		return s.refitSlice(ctx, slice)
	case jobs.KindReassess:
		return s.reassessSlice(ctx, slice)
	case jobs.KindFigures:
		return s.figuresSlice(ctx, slice)
	case jobs.KindPreview:
		return s.previewSlice(ctx, slice)
	case jobs.KindReweigh:
		return s.reweighSlice(ctx, slice)
	case jobs.KindOpenReviews:
		return s.openReviewsSlice(ctx, slice)
	case jobs.KindTakeIn:
		return s.takeInSlice(ctx, slice)
	case jobs.KindTakeBack:
		return s.takeBackSlice(ctx, slice)
	case jobs.KindDoubts:
		return s.doubtsSlice(ctx, slice)
	case jobs.KindSweepPhotos:
		return s.sweepSlice(ctx, slice)
	case jobs.KindCompletePhotos:
		return s.completePhotosSlice(ctx, slice)
	case jobs.KindExpire:
		return s.expireSlice(ctx, slice)
	case jobs.KindMail:
		return s.mailSlice(ctx, slice)
	case jobs.KindCheck:
		return s.checkSlice(ctx, slice)
	case jobs.KindProof:
		return s.proofSlice(ctx, slice)
	case jobs.KindSendCheckpoint:
		return s.sendSlice(ctx, slice)
	}
	return JobStep{}, fmt.Errorf("nothing here knows how to do a job of kind %s", slice.Kind)
}

// DueJobs implements JobHandler.
func (s *Service) DueJobs(ctx context.Context) ([]jobs.Job, error) {
	judges, err := s.Groups(ctx)
	if err != nil {
		return nil, err
	}
	var due []jobs.Job
	for _, find := range []func(context.Context) ([]jobs.Job, error){s.expireDue, s.sweepDue, s.completePhotosDue, s.checkDue, s.mailDue, s.proofDue, s.sendDue} {
		found, err := find(ctx)
		if err != nil {
			return nil, err
		}
		due = append(due, found...)
	}
	for _, j := range judges {
		group, hash := j.Tables().Group.ID, j.Tables().Hash
		for _, find := range []func(context.Context, string, string) ([]jobs.Job, error){s.learnDue, s.refitDue, s.reassessDue, s.doubtsDue, s.figuresDue} {
			found, err := find(ctx, group, hash)
			if err != nil {
				return nil, err
			}
			due = append(due, found...)
		}
	}
	return due, nil
}

// Do does a job from its beginning to its end in this process, beside whatever other processes do of it: no slice of one
// can be stored twice. Told is called with each slice that was stored; nil is nobody.
func (s *Service) Do(ctx context.Context, job jobs.Job, told func(JobStep)) error {
	slice := jobs.Slice{Job: job}
	for {
		step, err := s.DoSlice(ctx, slice)
		if err == nil {
			err = s.store.Commit(ctx, step.Batch)
		}
		switch {
		case review.KindOf(err) == review.KindConflict && slice.Try < triesOfSlice:
			slice.Try++
			continue
		case err != nil:
			return fmt.Errorf("%s %s: %w", job.Kind, job.Key, err)
		}
		if told != nil {
			told(step)
		}
		if !step.More {
			return nil
		}
		slice = jobs.Slice{Job: job, Cursor: step.Cursor, Done: step.Done, Total: step.Total}
	}
}

// triesOfSlice bounds how often Do yields to acts that change the same.
const triesOfSlice = 8

// CatchUp does what is due, in this process.
func (s *Service) CatchUp(ctx context.Context) error {
	due, err := s.DueJobs(ctx)
	if err != nil {
		return err
	}
	for _, job := range due {
		if err := s.Do(ctx, job, nil); err != nil {
			return err
		}
	}
	return nil
}

// Jobs are those that something has happened to last, for those who may read the figures.
func (s *Service) Jobs(ctx context.Context, actor review.Actor) ([]jobs.Progress, error) {
	if !review.May(actor, review.ActReadFigures, "") {
		return nil, review.Forbidden(actor, review.ActReadFigures, "")
	}
	return s.store.Jobs(ctx)
}

// ask asks for jobs.
func (s *Service) ask(ctx context.Context, asked ...jobs.Job) error {
	w := review.NewWriter(s.moment(itself))
	w.Batch.Jobs = asked
	return s.commit(ctx, w)
}

// walkOf is how far a job has come; nil where it is done, or nobody has asked for it.
func (s *Service) walkOf(ctx context.Context, job jobs.Job) (*review.Walk, error) {
	p, err := s.store.Job(ctx, job.Kind, job.Key)
	if review.KindOf(err) == review.KindNotFound || err == nil && p.Status == jobs.Done {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return &review.Walk{Done: p.Done, Total: p.Total, Error: p.Error, Failed: p.Status == jobs.Failed}, nil
}

// decodeCursor reads what the slice before has left; into stays as it is in the first one.
func decodeCursor(slice jobs.Slice, into any) error {
	if slice.Cursor == nil {
		return nil
	}
	if err := json.Unmarshal(slice.Cursor, into); err != nil {
		return fmt.Errorf("decode the cursor of job %s: %w", slice.Kind, err)
	}
	return nil
}

// encode turns a value of this package into JSON, which cannot fail but through a fault of the program.
func encode(v any) (json.RawMessage, error) {
	text, err := json.Marshal(v)
	if err != nil {
		return nil, fmt.Errorf("encode %T: %w", v, err)
	}
	return text, nil
}

// complete makes testimonies of what was closed before there were any, and says whether all have been made.
func (s *Service) complete(ctx context.Context, slice jobs.Slice) (bool, error) {
	for {
		made, err := s.store.CompleteTestimonies(ctx)
		if err != nil || made == 0 {
			return err == nil, err
		}
		if slice.Enough() {
			return false, nil
		}
	}
}

// meter measures what a walk takes. It is kept in the cursor between slices.
type meter struct {
	Spent time.Duration `json:"spent"`
	Peak  int64         `json:"peak"`
	began time.Time
}

func (m *meter) begin() { m.began = time.Now(); m.look() }

// look notes how much memory the program has in use.
func (m *meter) look() {
	sample := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}, {Name: "/memory/classes/heap/stacks:bytes"}}
	metrics.Read(sample)
	m.Peak = max(m.Peak, int64(sample[0].Value.Uint64()+sample[1].Value.Uint64()))
}

func (m *meter) end() {
	m.look()
	m.Spent += time.Since(m.began)
}

// made is what a walk has found at its end.
func (m *meter) made(kind review.FoundKind, group, key string, at time.Time, body any) (review.Found, error) {
	text, err := encode(body)
	return review.Found{Kind: kind, Group: group, Key: key, TouchedAt: at, Made: &review.Making{At: at, Took: m.Spent, Peak: m.Peak}, Body: text}, err
}

// errUnmade ends a walk that is looked through at once and turns out to be too long for that.
var errUnmade = errors.New("more than can be looked through at once")

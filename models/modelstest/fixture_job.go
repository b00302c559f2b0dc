package modelstest

import (
	"context"
	"encoding/json"
	"fmt"
	"sync"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/review"
	"revidit/review/jobs"
	"revidit/review/service"
)

// registrar is a handler whose slices register specimens: slice n of a run registers number n of the run.
type registrar struct {
	mu     sync.Mutex
	runs   map[string]int // by key
	slices int            // of a run
	before func(ctx context.Context, s jobs.Slice, n int) error
	due    []jobs.Job
	then   []jobs.Job // asked for by the last slice
}

// jobPlace is the cursor of a registrar.
type jobPlace struct {
	Run, Next int
}

func (r *registrar) DoSlice(ctx context.Context, s jobs.Slice) (service.JobStep, error) {
	at, err := r.place(s)
	if err != nil {
		return service.JobStep{}, err
	}
	if r.before != nil {
		if err := r.before(ctx, s, at.Next); err != nil {
			return service.JobStep{}, err
		}
	}
	step := service.JobStep{Batch: registered(numbered(s.Key, at.Run, at.Next)), Done: at.Next, Total: r.slices, More: at.Next < r.slices}
	if !step.More {
		step.Batch.Jobs = r.then
	}
	at.Next++
	step.Cursor, err = json.Marshal(at)
	return step, err
}

func (r *registrar) place(s jobs.Slice) (at jobPlace, err error) {
	if s.Cursor != nil {
		return at, json.Unmarshal(s.Cursor, &at)
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.runs == nil {
		r.runs = map[string]int{}
	}
	if s.Try == 0 {
		r.runs[s.Key]++
	}
	return jobPlace{max(r.runs[s.Key], 1), 1}, nil
}

func (r *registrar) DueJobs(context.Context) ([]jobs.Job, error) { return r.due, nil }

func numbered(key string, run, n int) string { return fmt.Sprintf("%s-%d-%d", key, run, n) }

// registered registers a specimen, which nobody can do twice.
func registered(id string) review.Batch {
	return review.Batch{Events: []review.Event{event(review.SpecimenStream(id), 1, "system", noon, &review.SpecimenRegistered{ID: id})},
		Specimens: []review.Specimen{{ID: id, Seq: 1}}}
}

// brisk are options for tests.
func brisk() models.JobOptions {
	return models.JobOptions{Poll: 50 * time.Millisecond, Watch: time.Second, Retry: time.Millisecond, Grace: 10 * time.Second}
}

// run does jobs until the function that it returns is called, which waits for the end.
func (f fixture) run(h service.JobHandler, o models.JobOptions) (stop func()) {
	ctx, cancel := context.WithCancel(f.Context())
	ended := make(chan error, 1)
	go func() { ended <- f.db.RunJobs(ctx, h, o) }()
	stop = sync.OnceFunc(func() {
		cancel()
		require.NoError(f, <-ended)
	})
	f.Cleanup(stop)
	return stop
}

func (f fixture) ask(asked ...jobs.Job) {
	f.Helper()
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Jobs: asked}))
}

func (f fixture) job(j jobs.Job) jobs.Progress {
	f.Helper()
	p, err := f.db.Job(f.Context(), j.Kind, j.Key)
	require.NoError(f, err)
	return p
}

// becomes waits until a job has a status.
func (f fixture) becomes(j jobs.Job, status jobs.Status) jobs.Progress {
	f.Helper()
	return f.reaches(j, func(p jobs.Progress) bool { return p.Status == status })
}

func (f fixture) reaches(j jobs.Job, is func(jobs.Progress) bool) (p jobs.Progress) {
	f.Helper()
	require.Eventually(f, func() bool {
		var err error
		p, err = f.db.Job(f.Context(), j.Kind, j.Key)
		return err == nil && is(p)
	}, Patience, 10*time.Millisecond)
	return p
}

// wait fails where nothing comes: a lost job is the very thing that these tests are about.
func (f fixture) wait(began <-chan bool) {
	f.Helper()
	select {
	case <-began:
	case <-time.After(30 * time.Second):
		require.Fail(f, "no slice has begun")
	}
}

// requireRegistered requires that slices 1 to n of the first runs have stored what they are to store.
func (f fixture) requireRegistered(key string, runs, n int) {
	f.Helper()
	for run := range runs {
		for i := range n {
			_, err := f.db.Specimen(f.Context(), numbered(key, run+1, i+1))
			require.NoError(f, err, "run %d, slice %d", run+1, i+1)
		}
		_, err := f.db.Specimen(f.Context(), numbered(key, run+1, n+1))
		requireKind(f.T, review.KindNotFound, err)
	}
	_, err := f.db.Specimen(f.Context(), numbered(key, runs+1, 1))
	requireKind(f.T, review.KindNotFound, err)
}

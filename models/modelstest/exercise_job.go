package modelstest

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/jobs"
	"revidit/review/service"
)

var jobChecks = map[string]func(fixture){
	"a job is asked for together with its cause":       jobWithItsCause,
	"asking for what waits changes nothing":            jobAskedTwice,
	"what a slice stores is stored once":               jobInSlices,
	"a slice that is cut off leaves nothing":           jobCutOff,
	"a slice that fails is tried again and says why":   jobFailsForAWhile,
	"a job that fails for good can be asked for again": jobFailsForGood,
	"a fault in the program is no end":                 jobPanics,
	"a job that is due is found":                       jobDue,
	"a job that failed is not due again at once":       jobFailedIsNotDue,
	"a job can ask for others":                         jobAsksForOthers,
	"a job that could not be stored is refused":        jobRefused,
}

var jobsAtOnce = map[string]func(fixture){
	"a job that is asked for while it runs runs again":       jobAskedWhileRunning,
	"a slice that collides with an act is tried at once":     jobCollides,
	"two runners never do one slice twice":                   jobsShared,
	"stopping lets a slice end":                              jobStops,
	"what is asked for while acts go on is seen by some run": jobSeesEveryAct,
}

func jobWithItsCause(f fixture) {
	learn, refit := jobs.Learn("adults"), jobs.Refit("adults")
	require.NoError(f, f.db.Commit(f.Context(), registered("a")))
	again := registered("a")
	again.Jobs = []jobs.Job{learn}
	requireKind(f.T, review.KindConflict, f.db.Commit(f.Context(), again))
	_, err := f.db.Job(f.Context(), learn.Kind, learn.Key)
	requireKind(f.T, review.KindNotFound, err)

	other := registered("b")
	other.Jobs = []jobs.Job{refit}
	require.NoError(f, f.db.Commit(f.Context(), other))
	asked := f.job(refit)
	require.Equal(f, jobs.Waiting, asked.Status)
	require.Equal(f, refit, asked.Job)

	h := &registrar{slices: 1}
	f.run(h, brisk())
	done := f.becomes(refit, jobs.Done)
	require.Equal(f, []int{1, 1}, []int{done.Done, done.Total})
	require.NotNil(f, done.StartedAt)
	require.NotNil(f, done.FinishedAt)
	require.Nil(f, done.Cursor)
	require.Equal(f, map[string]int{"adults": 1}, h.runs, "nothing else was in the queue")
	list, err := f.db.Jobs(f.Context())
	require.NoError(f, err)
	require.Equal(f, []jobs.Progress{done}, list)
}

func jobAskedTwice(f fixture) {
	job := jobs.Reassess("adults", "h1")
	f.ask(job)
	first := f.job(job)
	f.ask(job)
	require.Equal(f, first, f.job(job))
	newer := jobs.Reassess("adults", "h2")
	f.ask(newer)
	require.Equal(f, newer, f.job(job).Job)

	h := &registrar{slices: 2, before: func(_ context.Context, s jobs.Slice, _ int) error {
		if s.Wanted != "h2" {
			return errors.New("a run for what nobody wants any more")
		}
		return nil
	}}
	stop := f.run(h, brisk())
	f.becomes(job, jobs.Done)
	f.requireRegistered("adults", 1, 2)
	f.ask(newer)
	f.reaches(job, func(p jobs.Progress) bool {
		return p.Status == jobs.Done && p.AskedAt.After(first.AskedAt) && *p.StartedAt != p.AskedAt && p.FinishedAt.After(p.AskedAt)
	})
	stop()
	f.requireRegistered("adults", 2, 2)
}

func jobAskedWhileRunning(f fixture) {
	job, began, goOn := jobs.Learn("adults"), make(chan bool), make(chan bool)
	var newer atomic.Int32
	h := &registrar{slices: 2, before: func(_ context.Context, s jobs.Slice, n int) error {
		if n == 1 {
			began <- true
			<-goOn
		}
		if s.Newer {
			newer.Add(1)
		}
		return nil
	}}
	f.ask(job)
	stop := f.run(h, brisk())
	f.wait(began)
	require.Equal(f, jobs.Running, f.job(job).Status)
	f.ask(job)
	f.ask(job)
	require.Equal(f, jobs.Running, f.job(job).Status)
	goOn <- true
	f.wait(began) // the second run
	goOn <- true
	f.becomes(job, jobs.Done)
	stop()
	f.requireRegistered("adults", 2, 2)
	require.EqualValues(f, 1, newer.Load(), "the second slice of the first run is told")
}

func jobInSlices(f fixture) {
	const n = 12
	job := jobs.Reassess("adults", "h")
	f.ask(job)
	o := brisk()
	o.Poll = time.Hour // each slice wakes up who does the next one
	stop := f.run(&registrar{slices: n}, o)
	done := f.becomes(job, jobs.Done)
	require.Equal(f, []int{n, n}, []int{done.Done, done.Total})
	f.ask(jobs.Refit("larvae"))
	f.becomes(jobs.Refit("larvae"), jobs.Done)
	stop()
	f.requireRegistered("adults", 1, n)
	f.requireRegistered("larvae", 1, n)
}

func jobCutOff(f fixture) {
	job, began := jobs.Reassess("adults", "h"), make(chan bool)
	h := &registrar{slices: 4, before: func(ctx context.Context, _ jobs.Slice, n int) error {
		if n == 3 {
			began <- true
			<-ctx.Done()
			return ctx.Err()
		}
		return nil
	}}
	f.ask(job)
	o := brisk()
	o.Grace = 100 * time.Millisecond
	stop := f.run(h, o)
	f.wait(began)
	stop()
	at := f.job(job)
	require.Equal(f, jobs.Running, at.Status)
	require.Equal(f, 2, at.Done)
	require.Zero(f, at.Tries, "a stop is no failure")
	require.Empty(f, at.Error)

	h.before = nil
	stop = f.run(h, brisk())
	f.becomes(job, jobs.Done)
	stop()
	f.requireRegistered("adults", 1, 4)
}

func jobCollides(f fixture) {
	job := jobs.Reassess("adults", "h")
	var tries []int
	h := &registrar{slices: 1, before: func(_ context.Context, s jobs.Slice, _ int) error {
		tries = append(tries, s.Try)
		if s.Try < 2 {
			return review.Errorf(review.KindConflict, "Somebody else was quicker.")
		}
		return nil
	}}
	f.ask(job)
	o := brisk()
	o.Retry = time.Hour
	stop := f.run(h, o)
	done := f.becomes(job, jobs.Done)
	stop()
	require.Equal(f, []int{0, 1, 2}, tries)
	require.Empty(f, done.Error)
}

func jobFailsForAWhile(f fixture) {
	job := jobs.Refit("adults")
	var broken atomic.Bool
	broken.Store(true)
	h := &registrar{slices: 3, before: func(_ context.Context, _ jobs.Slice, n int) error {
		if n == 2 && broken.Load() {
			return review.Errorf(review.KindInvalid, "The tables of this group are not to be read.")
		}
		return nil
	}}
	f.ask(job)
	o := brisk()
	o.Retry = 300 * time.Millisecond
	stop := f.run(h, o)
	failing := f.reaches(job, func(p jobs.Progress) bool { return p.Error != "" })
	require.Equal(f, jobs.Running, failing.Status)
	require.Equal(f, 1, failing.Done)
	require.Equal(f, "The tables of this group are not to be read. It will be tried again by itself.", failing.Error)
	broken.Store(false)
	done := f.becomes(job, jobs.Done)
	require.Empty(f, done.Error)
	stop()
	f.requireRegistered("adults", 1, 3)
}

func jobFailsForGood(f fixture) {
	job := jobs.Refit("adults")
	var broken atomic.Bool
	broken.Store(true)
	h := &registrar{slices: 2, before: func(_ context.Context, _ jobs.Slice, n int) error {
		if n == 2 && broken.Load() {
			return errors.New("connection to 10.0.0.7 refused")
		}
		return nil
	}}
	f.ask(job)
	f.run(h, brisk())
	failed := f.becomes(job, jobs.Failed)
	require.Equal(f, 8, failed.Tries)
	require.Contains(f, failed.Error, "ask for it again")
	require.NotContains(f, failed.Error, "10.0.0.7", "a fault of ours is for the log")
	require.Equal(f, 1, failed.Done, "what was stored is stored")

	broken.Store(false)
	f.ask(job)
	done := f.becomes(job, jobs.Done)
	require.Empty(f, done.Error)
	require.Zero(f, done.Tries)
	_, err := f.db.Specimen(f.Context(), numbered("adults", 2, 2))
	require.NoError(f, err, "from the start")
}

func jobPanics(f fixture) {
	job := jobs.Refit("adults")
	h := &registrar{slices: 1, before: func(_ context.Context, s jobs.Slice, _ int) error {
		if s.Try == 0 {
			panic("a fault")
		}
		return nil
	}}
	f.ask(job)
	f.run(h, brisk())
	f.becomes(job, jobs.Done)
}

func jobsShared(f fixture) {
	const groups, slices = 6, 5
	var mu sync.Mutex
	busy, most := map[string]bool{}, 0
	h := &registrar{slices: slices, before: func(_ context.Context, s jobs.Slice, _ int) error {
		mu.Lock()
		twice := busy[s.Key]
		busy[s.Key] = true
		most = max(most, len(busy))
		alone := most < 2
		mu.Unlock()
		time.Sleep(5 * time.Millisecond)
		for waited := 0; alone && waited < 500; waited++ { // for another one, however slow the machine is
			time.Sleep(5 * time.Millisecond)
			mu.Lock()
			alone = most < 2
			mu.Unlock()
		}
		mu.Lock()
		defer mu.Unlock()
		delete(busy, s.Key)
		if twice {
			return errors.New("two slices of one job at a time")
		}
		return nil
	}}
	var asked []jobs.Job
	for i := range groups {
		asked = append(asked, jobs.Refit(fmt.Sprintf("group-%d", i)))
	}
	f.ask(asked...)
	first, second := f.run(h, brisk()), f.run(h, brisk())
	for _, j := range asked {
		done := f.becomes(j, jobs.Done)
		require.Empty(f, done.Error)
	}
	first()
	second()
	for _, j := range asked {
		f.requireRegistered(j.Key, 1, slices)
	}
	require.Greater(f, most, 1, "they worked at the same time")
}

func jobDue(f fixture) {
	job := jobs.Reassess("adults", "h")
	f.run(&registrar{slices: 1, due: []jobs.Job{job}}, brisk())
	f.becomes(job, jobs.Done)
}

func jobFailedIsNotDue(f fixture) {
	job := jobs.Reassess("adults", "h")
	var calls atomic.Int32
	h := &registrar{slices: 1, due: []jobs.Job{job}, before: func(context.Context, jobs.Slice, int) error {
		calls.Add(1)
		return errors.New("no")
	}}
	f.run(h, brisk())
	f.becomes(job, jobs.Failed)
	require.Never(f, func() bool { return calls.Load() > 8 }, 2500*time.Millisecond, 100*time.Millisecond)
}

func jobStops(f fixture) {
	job, began := jobs.Reassess("adults", "h"), make(chan bool, 1)
	want := 2
	h := &registrar{slices: 3, before: func(ctx context.Context, s jobs.Slice, n int) error {
		if n == 3 { // on a slow machine the second has taken its time before it is told to stop
			want = 3
		}
		if n == 2 {
			select {
			case began <- true:
			default:
			}
			for !s.Enough() && ctx.Err() == nil {
				time.Sleep(time.Millisecond)
			}
		}
		return ctx.Err()
	}}
	f.ask(job)
	stop := f.run(h, brisk())
	f.wait(began)
	asked := time.Now()
	stop()
	require.Less(f, time.Since(asked), 5*time.Second, "it ends by itself: a slice would have ten seconds, and its grace as much")
	require.Equal(f, want, f.job(job).Done, "what the slice had done is stored")
	h.before = nil
	f.run(h, brisk())
	f.becomes(job, jobs.Done)
	f.requireRegistered("adults", 1, 3)
}

func jobAsksForOthers(f fixture) {
	job := jobs.Reassess("adults", "h")
	h := &registrar{slices: 2, then: []jobs.Job{jobs.Refit("z"), jobs.Learn("a")}}
	f.ask(job)
	f.run(&onlyOnce{h, job.Kind}, brisk())
	for _, j := range append(h.then, job) {
		f.becomes(j, jobs.Done)
	}
}

// onlyOnce lets jobs of one kind alone ask for others.
type onlyOnce struct {
	*registrar
	kind jobs.Kind
}

func (o *onlyOnce) DoSlice(ctx context.Context, s jobs.Slice) (service.JobStep, error) {
	if s.Kind == o.kind {
		return o.registrar.DoSlice(ctx, s)
	}
	return service.JobStep{}, nil
}

// counter sees how many drafts there are, in the last slice that saw anything.
type counter struct {
	f    fixture
	seen atomic.Int64
	runs atomic.Int64
}

func (c *counter) DoSlice(ctx context.Context, s jobs.Slice) (service.JobStep, error) {
	c.runs.Add(1)
	counts, err := c.f.db.CountByStatus(ctx, "ada")
	c.seen.Store(int64(counts[review.StatusDraft]))
	return service.JobStep{}, err
}

func (c *counter) DueJobs(context.Context) ([]jobs.Job, error) { return nil, nil }

// jobSeesEveryAct: an act that finds a run about to begin does not ask for another one, so that one must see it.
func jobSeesEveryAct(f fixture) {
	const people, acts = 6, 20 // few enough that nobody waits ten seconds for SQLite, even while the machine is busy
	require.NoError(f, f.db.Commit(f.Context(), registered("s")))
	job, c := jobs.Learn("adults"), &counter{f: f}
	stop := f.run(c, brisk())
	var all sync.WaitGroup
	errs := make(chan error, people*acts)
	for p := range people {
		all.Go(func() {
			for i := range acts {
				id := fmt.Sprintf("%d-%d", p, i)
				made := review.Event{Stream: review.SubmissionStream(id), Seq: 1, At: noon, Actor: "ada", Role: review.RoleMember,
					Change: &review.Drafted{ID: id, Proposal: review.Proposal{Specimen: "s"}}}
				submission, err := review.ReplaySubmission([]review.Event{made})
				if err == nil {
					err = f.db.Commit(f.Context(), review.Batch{Events: []review.Event{made}, Submissions: []review.Submission{submission}, Jobs: []jobs.Job{job}})
				}
				errs <- err
			}
		})
	}
	all.Wait()
	for range people * acts {
		require.NoError(f, <-errs)
	}
	f.becomes(job, jobs.Done)
	stop()
	require.EqualValues(f, people*acts, c.seen.Load(), "in %d runs", c.runs.Load())
}

func jobRefused(f fixture) {
	twice := []jobs.Job{jobs.Learn("a"), jobs.Refit("a"), jobs.Learn("a")}
	require.ErrorContains(f, f.db.Commit(f.Context(), review.Batch{Jobs: twice}), "twice")
	require.ErrorContains(f, f.db.Commit(f.Context(), review.Batch{Jobs: []jobs.Job{{Kind: "unheard-of"}}}), "unheard-of")
	require.ErrorContains(f, f.db.Commit(f.Context(), review.Batch{Jobs: []jobs.Job{{Kind: jobs.KindLearn, Args: json.RawMessage("{")}}}), "no JSON")
	list, err := f.db.Jobs(f.Context())
	require.NoError(f, err)
	require.Empty(f, list)
}

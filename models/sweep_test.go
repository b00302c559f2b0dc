package models_test

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/blob"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/jobs"
	"revidit/review/service"
)

// swept is a club with a photo folder, whose clock can be put forward.
type swept struct {
	*testing.T
	db      *models.DB
	blobs   *blob.Dir
	folder  string
	service *service.Service
	ahead   atomic.Int64 // of the real clock, which files are dated by
}

func newSwept(t *testing.T, db *models.DB) *swept {
	s := &swept{T: t, db: db, folder: filepath.Join(t.TempDir(), "photos")}
	var err error
	s.blobs, err = blob.OpenDir(s.folder)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.blobs.Close()) })
	s.service = service.NewService(db, s.blobs, service.NewLibrary(modelstest.Tables(t)), service.Options{Now: s.now})
	return s
}

func (s *swept) now() time.Time { return time.Now().Add(time.Duration(s.ahead.Load())) }

func (s *swept) wait(d time.Duration) { s.ahead.Add(int64(d)) }

// sha is the digest of photo n. Photos of neighbouring numbers lie in different folders.
func sha(n int) string { return fmt.Sprintf("%02x%062x", n%256, n) }

func nameOf(n int, size service.Size) string { return sha(n)[:2] + "/" + sha(n) + "-" + string(size) }

var sizes = []service.Size{service.SizeDisplay, service.SizeOriginal, service.SizeThumb}

// file writes the files of a photo, without the care that a Put takes of the disk.
func (s *swept) file(n int) {
	s.Helper()
	for _, size := range sizes {
		path := filepath.Join(s.folder, nameOf(n, size))
		require.NoError(s, os.MkdirAll(filepath.Dir(path), 0o700))
		require.NoError(s, os.WriteFile(path, []byte(sha(n)), 0o600))
	}
}

func (s *swept) row(n int) string {
	s.Helper()
	u := review.Upload{Photo: review.Photo{ID: fmt.Sprint("u", n), SHA256: sha(n), Type: "image/jpeg", Width: 1, Height: 1, By: "ada",
		At: s.now().UTC().Truncate(time.Microsecond)}}
	require.NoError(s, s.db.SaveUpload(s.Context(), u))
	return u.ID
}

// take gives uploads to a registered specimen.
func (s *swept) take(specimen string, uploads ...string) {
	s.Helper()
	batch := review.Batch{Events: []review.Event{{Stream: review.SpecimenStream(specimen), Seq: 1, At: s.now().UTC(), Actor: "ada", Role: review.RoleMember,
		Change: &review.SpecimenRegistered{ID: specimen}}}, Specimens: []review.Specimen{{ID: specimen, Seq: 1}}, Attach: map[string]string{}}
	for _, u := range uploads {
		batch.Attach[u] = specimen
	}
	require.NoError(s, s.db.Commit(s.Context(), batch))
}

func (s *swept) do(job jobs.Job) { s.Helper(); require.NoError(s, s.service.Do(s.Context(), job, nil)) }

// requireFiles requires that the files of photos are there to be opened, and where they are.
func (s *swept) requireFiles(there bool, photos ...int) {
	s.Helper()
	for _, n := range photos {
		for _, size := range sizes {
			body, err := s.blobs.Open(s.Context(), nameOf(n, size))
			if !there {
				require.Equal(s, review.KindNotFound, review.KindOf(err), "photo %d", n)
				continue
			}
			require.NoError(s, err, "photo %d", n)
			text, err := io.ReadAll(body)
			require.NoError(s, err)
			require.NoError(s, body.Close())
			require.Equal(s, sha(n), string(text))
		}
	}
}

// aside are the numbers of photos of which all files are set aside.
func (s *swept) aside() []string {
	s.Helper()
	names, err := s.blobs.StoredAside(s.Context(), "", 100_000)
	require.NoError(s, err)
	return names
}

func (s *swept) requireAside(photos ...int) {
	s.Helper()
	want := []string{}
	for _, n := range photos {
		for _, size := range sizes {
			want = append(want, nameOf(n, size))
		}
	}
	require.ElementsMatch(s, want, s.aside())
}

func (s *swept) last() (last service.Swept) {
	s.Helper()
	found, err := s.db.Found(s.Context(), review.FoundSwept, "", "")
	require.NoError(s, err)
	require.NoError(s, found.Decode(&last))
	return last
}

// due says of which kinds jobs are due that are of no group.
func (s *swept) due() []jobs.Kind {
	s.Helper()
	due, err := s.service.DueJobs(s.Context())
	require.NoError(s, err)
	kinds := []jobs.Kind{}
	for _, j := range due {
		if j.Kind == jobs.KindSweepPhotos || j.Kind == jobs.KindExpire {
			kinds = append(kinds, j.Kind)
		}
	}
	slices.Sort(kinds)
	return kinds
}

func onBoth(t *testing.T, check func(*swept)) {
	for name, open := range stores {
		t.Run(name, func(t *testing.T) { check(newSwept(t, open(t))) })
	}
}

const day = 24 * time.Hour

// TestSweepTakesWhatNothingNames, and only that: 0 is of a specimen, 1 waits for one, 2 and 3 are strays, 4 is being
// uploaded.
func TestSweepTakesWhatNothingNames(t *testing.T) {
	t.Parallel()
	onBoth(t, func(s *swept) {
		for n := range 4 {
			s.file(n)
		}
		s.take("a", s.row(0))
		s.row(1)
		s.do(jobs.SweepPhotos())
		s.requireAside()

		s.wait(25 * time.Hour)
		later := s.now()
		s.file(4)
		for _, size := range sizes {
			require.NoError(s, os.Chtimes(filepath.Join(s.folder, nameOf(4, size)), later, later))
		}
		s.do(jobs.SweepPhotos())
		s.requireFiles(true, 0, 1, 2, 3, 4)
		s.requireAside(2, 3)
		require.Equal(s, service.Swept{Looked: 15 + 6, SetAside: 6}, s.last())

		s.row(3) // as if the upload had ended only now: nothing is lost
		s.do(jobs.SweepPhotos())
		s.requireAside(2)
		s.wait(28 * day)
		s.row(4)
		s.do(jobs.SweepPhotos())
		s.requireFiles(true, 0, 1, 2, 3, 4)
		s.wait(2 * day)
		s.do(jobs.SweepPhotos())
		s.requireFiles(true, 0, 1, 3, 4)
		s.requireFiles(false, 2)
		s.requireAside()
		require.Equal(s, 3, s.last().Removed)
	})
}

// TestAWrongStartTakesNothing: a database without any photo is that of another club, or an empty one by mistake.
func TestAWrongStartTakesNothing(t *testing.T) {
	t.Parallel()
	onBoth(t, func(s *swept) {
		for n := range 3 {
			s.file(n)
		}
		s.wait(60 * day)
		s.do(jobs.SweepPhotos())
		s.requireAside()
		s.requireFiles(true, 0, 1, 2)
		require.Equal(s, service.Swept{NoPhotos: true}, s.last())
	})
}

// TestTheRightStartMakesGood what a start with the database of another club, which knows photos, has set aside.
func TestTheRightStartMakesGood(t *testing.T) {
	t.Parallel()
	onBoth(t, func(right *swept) {
		for n := range 3 {
			right.file(n)
			right.row(n)
		}
		wrong := newSwept(right.T, modelstest.SQLite(right))
		wrong.folder, wrong.blobs = right.folder, right.blobs
		wrong.service = service.NewService(wrong.db, right.blobs, service.NewLibrary(modelstest.Tables(right)), service.Options{Now: wrong.now})
		wrong.row(99)
		wrong.wait(25 * time.Hour)
		wrong.do(jobs.SweepPhotos())
		right.requireAside(0, 1, 2)
		right.requireFiles(true, 0, 1, 2)
		right.do(jobs.SweepPhotos())
		right.requireAside()
		right.requireFiles(true, 0, 1, 2)
	})
}

// inPages makes a slice of each page, and ends with its process in the middle of one: after the files were moved, before
// that was stored.
type inPages struct {
	service.JobHandler
	slices atomic.Int32
	at     int32
	die    context.CancelFunc
}

func (p *inPages) DoSlice(ctx context.Context, slice jobs.Slice) (service.JobStep, error) {
	slice.Stop = func() bool { return true }
	step, err := p.JobHandler.DoSlice(ctx, slice)
	if p.slices.Add(1) == p.at {
		p.die()
		<-ctx.Done()
		return service.JobStep{}, ctx.Err()
	}
	return step, err
}

func (*inPages) DueJobs(context.Context) ([]jobs.Job, error) { return nil, nil }

func TestSweepGoesOn(t *testing.T) {
	t.Parallel()
	const n = 1200 // of three files, a third of them named
	onBoth(t, func(s *swept) {
		var mine []string
		for i := range n {
			s.file(i)
			if i%3 == 0 {
				mine = append(mine, s.row(i))
			}
		}
		s.take("a", mine...)
		s.wait(25 * time.Hour)
		ctx, die := context.WithCancel(s.Context())
		first := &inPages{JobHandler: s.service, at: 2, die: die}
		options := models.JobOptions{Poll: 50 * time.Millisecond, Grace: 200 * time.Millisecond}
		require.NoError(s, s.db.Commit(s.Context(), review.Batch{Jobs: []jobs.Job{jobs.SweepPhotos()}}))
		_ = s.db.RunJobs(ctx, first, options) // what a process that is ended says is nothing that one can rely on
		moved := len(s.aside())
		require.Positive(s, moved)
		require.Less(s, moved, 2*n)

		ctx, stop := context.WithCancel(s.Context())
		defer stop()
		second := &inPages{JobHandler: s.service}
		ended := make(chan error, 1)
		go func() { ended <- s.db.RunJobs(ctx, second, options) }()
		require.Eventually(s, func() bool {
			p, err := s.db.Job(s.Context(), jobs.KindSweepPhotos, "")
			return err == nil && p.Status == jobs.Done
		}, modelstest.Patience, 50*time.Millisecond)
		stop()
		require.NoError(s, <-ended)
		require.Greater(s, second.slices.Load(), int32(2), "in slices")
		require.Len(s, s.aside(), 2*n)
		for i := range n {
			_, err := os.Stat(filepath.Join(s.folder, nameOf(i, service.SizeOriginal)))
			require.Equal(s, i%3 == 0, err == nil, "photo %d", i)
		}
	})
}

func TestExpireTakesWhatIsPastItsTime(t *testing.T) {
	t.Parallel()
	onBoth(t, func(s *swept) {
		s.file(0)
		s.file(1)
		taken, idle := s.row(0), s.row(1)
		s.take("a", taken)
		submission := review.Event{Stream: review.SubmissionStream("x"), Seq: 1, At: s.now().UTC(), Actor: "ada", Role: review.RoleMember,
			Change: &review.Drafted{ID: "x", Proposal: review.Proposal{Specimen: "a"}}}
		made, err := review.ReplaySubmission([]review.Event{submission})
		require.NoError(s, err)
		require.NoError(s, s.db.Commit(s.Context(), review.Batch{Events: []review.Event{submission}, Submissions: []review.Submission{made},
			Key: &review.IdempotencyKey{Person: "ada", Key: "k", Made: "x", At: s.now().UTC()}}))

		gone := func(ahead time.Duration) []bool {
			s.wait(ahead)
			s.do(jobs.Expire())
			_, upload := s.db.Upload(s.Context(), idle)
			_, _, key := s.db.Served(s.Context(), "ada", "k")
			return []bool{review.KindOf(upload) == review.KindNotFound, review.KindOf(key) == review.KindNotFound}
		}
		require.Equal(s, []bool{false, false}, gone(23*time.Hour))
		require.Equal(s, []bool{true, false}, gone(2*time.Hour))
		require.Equal(s, []bool{true, false}, gone(5*day))
		require.Equal(s, []bool{true, true}, gone(2*day))
		_, err = s.db.Upload(s.Context(), taken)
		require.NoError(s, err, "a draft names it")

		s.do(jobs.SweepPhotos())
		s.requireAside(1)
	})
}

func TestSweepAndExpiryAreDueOnceADay(t *testing.T) {
	t.Parallel()
	onBoth(t, func(s *swept) {
		both := []jobs.Kind{jobs.KindExpire, jobs.KindSweepPhotos}
		require.Equal(s, both, s.due())
		s.do(jobs.SweepPhotos())
		require.Equal(s, both[:1], s.due())
		s.do(jobs.Expire())
		require.Empty(s, s.due())
		s.wait(23 * time.Hour)
		require.Empty(s, s.due())
		s.wait(2 * time.Hour)
		require.Equal(s, both, s.due())
	})
}

// TestNoJobIsLostToExpiry: whoever asks for a job whose row expires at the same time is served.
func TestNoJobIsLostToExpiry(t *testing.T) {
	t.Parallel()
	onBoth(t, func(s *swept) {
		const tries = 150
		for i := range tries {
			job := jobs.Refit(fmt.Sprint("g", i))
			require.NoError(s, s.db.Commit(s.Context(), review.Batch{Jobs: []jobs.Job{job}}))
			_, err := s.db.Raw().ExecContext(s.Context(), "UPDATE jobs SET status = 'done', taken = asked, finished_at = updated_at WHERE status = 'waiting'")
			require.NoError(s, err)
			expired := make(chan error, 1)
			go func() {
				_, err := s.db.Expire(s.Context(), service.Expiry{Jobs: time.Now().Add(time.Hour)})
				expired <- err
			}()
			time.Sleep(time.Duration(i%10) * 100 * time.Microsecond)
			require.NoError(s, s.db.Commit(s.Context(), review.Batch{Jobs: []jobs.Job{job}}))
			require.NoError(s, <-expired)
			asked, err := s.db.Job(s.Context(), job.Kind, job.Key)
			require.NoError(s, err, "try %d", i)
			require.Equal(s, jobs.Waiting, asked.Status)
		}
	})
}

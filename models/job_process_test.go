package models_test

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/migrations"
	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/jobs"
	"revidit/review/service"
)

// runnerVariable makes the test program do jobs of the database that it names, instead of tests.
const runnerVariable = "REVIDIT_TEST_JOB_RUNNER"

const (
	runnerSlices = 30
	runnerRescue = 3 * time.Second // a busy machine takes a second for a slice
)

// registrar registers a specimen in each slice, slowly, and tells when a slice begins.
type registrar struct{ tell io.Writer }

func (r registrar) DoSlice(_ context.Context, s jobs.Slice) (service.JobStep, error) {
	n := 1
	if s.Cursor != nil {
		if err := json.Unmarshal(s.Cursor, &n); err != nil {
			return service.JobStep{}, err
		}
	}
	fmt.Fprintln(r.tell, "slice", s.Key, n)
	time.Sleep(20 * time.Millisecond)
	id := fmt.Sprintf("%s-%d", s.Key, n)
	batch := review.Batch{Events: []review.Event{{Stream: review.SpecimenStream(id), Seq: 1, At: time.Unix(0, 0).UTC(), Actor: "system", Role: review.RoleMember,
		Change: &review.SpecimenRegistered{ID: id}}}, Specimens: []review.Specimen{{ID: id, Seq: 1}}}
	return service.JobStep{Batch: batch, Cursor: json.RawMessage(fmt.Sprint(n + 1)), Done: n, Total: runnerSlices, More: n < runnerSlices}, nil
}

func (registrar) DueJobs(context.Context) ([]jobs.Job, error) { return nil, nil }

// runJobs does jobs until the standard input ends.
func runJobs(url string) error {
	ctx, cancel := context.WithCancel(context.Background())
	go func() {
		_, _ = io.Copy(io.Discard, os.Stdin) // an end, whatever the reason
		cancel()
	}()
	db, err := models.Open(ctx, url)
	if err != nil {
		return err
	}
	defer db.Close()
	return db.RunJobs(ctx, registrar{os.Stdout}, models.JobOptions{Poll: 50 * time.Millisecond, Slice: 2 * time.Second, Rescue: runnerRescue, Retry: time.Millisecond})
}

// runner is a process that does jobs.
type runner struct {
	*exec.Cmd
	lines chan string // closed at its end
	input io.Closer
}

func startRunner(t *testing.T, url string) *runner {
	t.Helper()
	r := &runner{Cmd: exec.Command(os.Args[0]), lines: make(chan string, 1000)}
	r.Env = append(os.Environ(), runnerVariable+"="+url)
	r.Stderr = os.Stderr
	input, err := r.StdinPipe()
	require.NoError(t, err)
	output, err := r.StdoutPipe()
	require.NoError(t, err)
	r.input = input
	require.NoError(t, r.Start())
	go func() {
		defer close(r.lines)
		for scanner := bufio.NewScanner(output); scanner.Scan(); {
			r.lines <- scanner.Text()
		}
	}()
	return r
}

// A process that does jobs is killed within a slice. Two others at once go on, and in the end each slice is stored once.
func TestKilledRunnersLoseAndRepeatNothing(t *testing.T) {
	t.Parallel()
	for name, url := range map[string]func(testing.TB) string{"SQLite": migratedSQLite, "Postgres": modelstest.PostgresURL} {
		t.Run(name, func(t *testing.T) {
			t.Parallel() // it waits most of the time
			where := url(t)
			db, err := models.Open(t.Context(), where)
			require.NoError(t, err)
			t.Cleanup(func() { require.NoError(t, db.Close()) })
			asked := []jobs.Job{jobs.Reassess("a", "h"), jobs.Reassess("b", "h"), jobs.Reassess("c", "h")}
			first := startRunner(t, where)
			requireLeader(t, db)
			require.NoError(t, db.Commit(t.Context(), review.Batch{Jobs: asked}))
			for line := range first.lines {
				if strings.HasSuffix(line, " 5") {
					break
				}
			}
			require.NoError(t, first.Process.Kill())
			require.Error(t, first.Wait(), "it was killed")
			time.Sleep(runnerRescue) // a slice is given up for dead after it; who leads looks when it begins, then every 30 s
			others := []*runner{startRunner(t, where), startRunner(t, where)}
			// The killed one leads for another 15 seconds; nobody has to wait for that here.
			_, err = db.Raw().ExecContext(t.Context(), "DELETE FROM river_leader")
			require.NoError(t, err)
			for _, j := range asked {
				requireDone(t, db, j)
			}
			for _, other := range others {
				require.NoError(t, other.input.Close())
				require.NoError(t, other.Wait())
			}
			requireEachOnce(t, db, asked)
		})
	}
}

func migratedSQLite(t testing.TB) string {
	path := modelstest.SQLitePath(t)
	db, err := models.Open(t.Context(), path)
	require.NoError(t, err)
	require.NoError(t, db.Migrate(t.Context()))
	require.NoError(t, db.Close())
	return path
}

func requireLeader(t *testing.T, db *models.DB) {
	t.Helper()
	require.Eventually(t, func() bool {
		n := 0
		err := db.Raw().QueryRowContext(t.Context(), "SELECT COUNT(*) FROM river_leader").Scan(&n)
		return err == nil && n == 1
	}, modelstest.Patience, 20*time.Millisecond)
}

func requireDone(t *testing.T, db *models.DB, j jobs.Job) {
	t.Helper()
	var p jobs.Progress
	require.Eventually(t, func() bool {
		var err error
		p, err = db.Job(t.Context(), j.Kind, j.Key)
		return err == nil && p.Status == jobs.Done
	}, modelstest.Patience, 20*time.Millisecond)
	require.Equal(t, []int{runnerSlices, runnerSlices}, []int{p.Done, p.Total})
	require.Empty(t, p.Error)
}

func requireEachOnce(t *testing.T, db *models.DB, asked []jobs.Job) {
	t.Helper()
	n := 0
	require.NoError(t, db.Raw().QueryRowContext(t.Context(), "SELECT COUNT(*) FROM events").Scan(&n))
	require.Equal(t, len(asked)*runnerSlices, n)
	for _, j := range asked {
		for i := range runnerSlices {
			_, err := db.Specimen(t.Context(), fmt.Sprintf("%s-%d", j.Key, i+1))
			require.NoError(t, err)
		}
	}
}

// A slice that was given up for dead and goes on all the same stores nothing.
func TestATakenOverSliceStoresNothing(t *testing.T) {
	t.Parallel()
	for name, open := range databases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			db, job := open(t), jobs.Reassess("a", "h")
			require.NoError(t, db.Commit(t.Context(), review.Batch{Jobs: []jobs.Job{job}}))
			calls := 0
			h := handlerFunc(func(ctx context.Context, s jobs.Slice) (service.JobStep, error) {
				if calls++; calls == 1 { // as if it had begun again elsewhere meanwhile
					_, err := db.Raw().ExecContext(ctx, "UPDATE jobs SET slice = slice + 1")
					require.NoError(t, err)
				}
				return registrar{io.Discard}.DoSlice(ctx, s)
			})
			ctx, cancel := context.WithCancel(t.Context())
			ended := make(chan error, 1)
			go func() {
				ended <- db.RunJobs(ctx, h, models.JobOptions{Poll: 50 * time.Millisecond, Retry: time.Millisecond})
			}()
			requireDone(t, db, job)
			cancel()
			require.NoError(t, <-ended)
			require.Equal(t, runnerSlices+1, calls)
			requireEachOnce(t, db, []jobs.Job{job})
		})
	}
}

// Slices that somebody removed from the queue are put there again.
func TestSlicesLostFromTheQueue(t *testing.T) {
	t.Parallel()
	for name, open := range databases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			db, job := open(t), jobs.Reassess("a", "h")
			require.NoError(t, db.Commit(t.Context(), review.Batch{Jobs: []jobs.Job{job}}))
			_, err := db.Raw().ExecContext(t.Context(), "DELETE FROM river_job")
			require.NoError(t, err)
			ctx, cancel := context.WithCancel(t.Context())
			ended := make(chan error, 1)
			go func() {
				ended <- db.RunJobs(ctx, registrar{io.Discard}, models.JobOptions{Poll: 50 * time.Millisecond})
			}()
			requireDone(t, db, job)
			cancel()
			require.NoError(t, <-ended)
		})
	}
}

type handlerFunc func(context.Context, jobs.Slice) (service.JobStep, error)

func (f handlerFunc) DoSlice(ctx context.Context, s jobs.Slice) (service.JobStep, error) {
	return f(ctx, s)
}
func (handlerFunc) DueJobs(context.Context) ([]jobs.Job, error) { return nil, nil }

func TestTheQueueHasASchemaOfItsOwn(t *testing.T) {
	t.Parallel()
	for name, open := range databases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			db := open(t)
			require.NoError(t, db.CheckSchema(t.Context()))
			_, err := db.Raw().ExecContext(t.Context(), "INSERT INTO river_migration (line, version) VALUES ('main', 9999)")
			require.NoError(t, err)
			for _, err := range []error{db.CheckSchema(t.Context()), db.Migrate(t.Context())} {
				require.ErrorIs(t, err, migrations.ErrNewer)
				require.ErrorContains(t, err, "queue version 9999")
			}
			_, err = db.Raw().ExecContext(t.Context(), "DELETE FROM river_migration WHERE version >= (SELECT MAX(version) FROM river_migration WHERE version < 9999)")
			require.NoError(t, err)
			err = db.CheckSchema(t.Context())
			require.ErrorIs(t, err, migrations.ErrBehind)
			require.ErrorContains(t, err, "queue version")
			require.ErrorContains(t, err, "revidit migrate")
		})
	}
}

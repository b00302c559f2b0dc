package models

import (
	"context"
	"database/sql"
	"fmt"
	"log/slog"
	"sync"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/riverdriver/riverdatabasesql"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivermigrate"
	"github.com/riverqueue/river/rivertype"
	"gorm.io/gorm"

	"revidit/migrations"
	"revidit/review/jobs"
)

// jobQueue is the library's queue of what is to be done next. This file, jobrun.go and jobwatch.go alone know
// the library.
type jobQueue struct {
	pool    *sql.DB
	dialect string
	plain   riverdriver.Driver[*sql.Tx]
	driver  queueDriver
	client  *river.Client[*sql.Tx] // inserts only
}

func newJobQueue(pool *sql.DB, dialect string) (*jobQueue, error) {
	var plain riverdriver.Driver[*sql.Tx] = riversqlite.New(pool)
	if dialect == migrations.Postgres {
		plain = riverdatabasesql.New(pool)
	}
	driver := queueDriver{plain, &wakeups{listeners: map[*wakeup]bool{}}}
	client, err := river.NewClient(driver, &river.Config{Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		return nil, fmt.Errorf("prepare the queue of jobs: %w", err)
	}
	return &jobQueue{pool: pool, dialect: dialect, plain: plain, driver: driver, client: client}, nil
}

// sliceArgs name the job of which a slice is to be done.
type sliceArgs struct {
	Name string `json:"kind"`
	Key  string `json:"key"`
}

// Kind implements river.JobArgs.
func (sliceArgs) Kind() string { return "slice" }

// live are the states in which something is still to come. The library's default counts completed ones as well, so that
// nothing could be asked for twice in a day.
var live = []rivertype.JobState{rivertype.JobStateAvailable, rivertype.JobStatePending, rivertype.JobStateRetryable,
	rivertype.JobStateRunning, rivertype.JobStateScheduled}

// insert puts the next slice of a job into the queue, unless one is there.
func (q *jobQueue) insert(tx *gorm.DB, kind, key string) error {
	_, err := q.client.InsertTx(tx.Statement.Context, sqlTx(tx), sliceArgs{kind, key}, &river.InsertOpts{
		Priority: jobs.Kind(kind).Rank(), UniqueOpts: river.UniqueOpts{ByArgs: true, ByState: live}})
	if err != nil {
		return fmt.Errorf("put job %s into the queue: %w", kind, err)
	}
	return nil
}

// wake makes those who run slices in this process look now; call it after the commit.
func (q *jobQueue) wake() { q.driver.wakeups.call() }

// sqlTx is the transaction inside one of gorm.
func sqlTx(tx *gorm.DB) *sql.Tx { return tx.Statement.ConnPool.(*sql.Tx) }

// migrate brings the tables of the queue to what the library needs. On PostgreSQL processes that do it at the same time
// wait for each other; the library does not see to that.
func (q *jobQueue) migrate(ctx context.Context) error {
	if q.dialect == migrations.Postgres {
		conn, err := q.pool.Conn(ctx)
		if err != nil {
			return fmt.Errorf("migrate the queue of jobs: %w", err)
		}
		defer conn.Close() // gives the lock back as well
		const lock = 7306081525
		if _, err := conn.ExecContext(ctx, "SELECT pg_advisory_lock($1)", lock); err != nil {
			return fmt.Errorf("migrate the queue of jobs: %w", err)
		}
		defer conn.ExecContext(context.WithoutCancel(ctx), "SELECT pg_advisory_unlock($1)", lock)
	}
	migrator, current, target, err := q.versions(ctx)
	if err != nil {
		return err
	}
	if current > target {
		return migrations.Newer("queue", current, target)
	}
	if _, err := migrator.Migrate(ctx, rivermigrate.DirectionUp, nil); err != nil {
		return fmt.Errorf("migrate the queue of jobs: %w", err)
	}
	return nil
}

// check is migrations.Check for the tables of the queue.
func (q *jobQueue) check(ctx context.Context) error {
	_, current, target, err := q.versions(ctx)
	switch {
	case err != nil:
		return err
	case current > target:
		return migrations.Newer("queue", current, target)
	case current < target:
		return migrations.Behind("queue", current, target)
	}
	return nil
}

func (q *jobQueue) versions(ctx context.Context) (m *rivermigrate.Migrator[*sql.Tx], current, target int64, err error) {
	m, err = rivermigrate.New(q.plain, &rivermigrate.Config{Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		return nil, 0, 0, fmt.Errorf("prepare migrations of the queue: %w", err)
	}
	for _, known := range m.AllVersions() {
		target = max(target, int64(known.Version))
	}
	current, err = q.version(ctx)
	return m, current, target, err
}

// version is asked for past the library, which takes versions that it does not know for a fault.
func (q *jobQueue) version(ctx context.Context) (version int64, err error) {
	made, err := q.plain.GetExecutor().TableExists(ctx, &riverdriver.TableExistsParams{Table: "river_migration"})
	if err != nil {
		return 0, fmt.Errorf("read the version of the queue: %w", err)
	}
	if !made {
		return 0, nil
	}
	err = q.pool.QueryRowContext(ctx, "SELECT COALESCE(MAX(version), 0) FROM river_migration WHERE line = 'main'").Scan(&version)
	if err != nil {
		return 0, fmt.Errorf("read the version of the queue: %w", err)
	}
	return version, nil
}

// queueDriver is a driver of the library that hears of new slices inside this process, right after the commit, and
// tells other processes nothing: those look every now and then. Its own ways cost more than they bring here. On SQLite
// each insert would write a second row, which every process would look for twenty times a second; on PostgreSQL NOTIFY
// makes commits wait for each other.
type queueDriver struct {
	riverdriver.Driver[*sql.Tx]
	wakeups *wakeups
}

func (d queueDriver) SupportsListener() bool     { return true }
func (d queueDriver) SupportsListenNotify() bool { return false }
func (d queueDriver) GetListener(*riverdriver.GetListenenerParams) riverdriver.Listener {
	return &wakeup{all: d.wakeups, called: make(chan struct{}, 1)}
}

// wakeups are those who run slices in this process.
type wakeups struct {
	mu        sync.Mutex
	listeners map[*wakeup]bool
}

func (w *wakeups) call() {
	w.mu.Lock()
	defer w.mu.Unlock()
	for l := range w.listeners {
		select {
		case l.called <- struct{}{}:
		default: // it has not heard the last call yet
		}
	}
}

// wakeup implements riverdriver.Listener.
type wakeup struct {
	all    *wakeups
	called chan struct{}
}

func (w *wakeup) Connect(context.Context) error {
	w.all.mu.Lock()
	defer w.all.mu.Unlock()
	w.all.listeners[w] = true
	return nil
}

func (w *wakeup) Close(context.Context) error {
	w.all.mu.Lock()
	defer w.all.mu.Unlock()
	delete(w.all.listeners, w)
	return nil
}

func (w *wakeup) WaitForNotification(ctx context.Context) (*riverdriver.Notification, error) {
	select {
	case <-ctx.Done():
		return nil, ctx.Err()
	case <-w.called:
		return &riverdriver.Notification{Topic: "river_insert", Payload: `{"queue": "` + river.QueueDefault + `"}`}, nil
	}
}

func (*wakeup) Listen(context.Context, string) error   { return nil }
func (*wakeup) Unlisten(context.Context, string) error { return nil }
func (*wakeup) Ping(context.Context) error             { return nil }
func (*wakeup) Schema() string                         { return "" }
func (*wakeup) SetAfterConnectExec(string)             {}

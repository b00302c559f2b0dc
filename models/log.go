package models

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"time"
)

// SQLite writes to a log first and brings that into the file by and by. It begins the log anew when nobody reads from it, and
// under steady reading somebody always does, so that the log would grow without end. The tender makes everybody who writes
// wait for a moment, in which the last readers of the log come to an end and new ones need none.
const (
	logLimit   = 16 << 20 // bytes from which the log is cut
	logEvery   = time.Second
	logLongest = 30 * time.Second // between two looks, where somebody reads for long
	logWait    = 250              // milliseconds for which writers wait for readers
)

// logTender cuts the log of an SQLite file when it has become long.
type logTender struct {
	file *databaseFile
	pool *sql.DB
	stop context.CancelFunc
	over chan struct{}
}

// tendLog begins to tend.
func tendLog(file *databaseFile, dsn string) (*logTender, error) {
	pool, err := sql.Open("sqlite", fmt.Sprintf("%s_pragma=busy_timeout(%d)", dsn, logWait))
	if err != nil {
		return nil, fmt.Errorf("open the database: %w", err)
	}
	pool.SetMaxIdleConns(-1) // one is opened when there is something to do
	ctx, stop := context.WithCancel(context.Background())
	t := &logTender{file: file, pool: pool, stop: stop, over: make(chan struct{})}
	go t.run(ctx)
	return t, nil
}

// end stops tending.
func (t *logTender) end() error {
	if t == nil {
		return nil
	}
	t.stop()
	<-t.over
	return t.pool.Close()
}

func (t *logTender) run(ctx context.Context) {
	defer close(t.over)
	wait := logEvery
	for {
		select {
		case <-ctx.Done():
			return
		case <-time.After(wait):
		}
		if t.long() && !t.cut(ctx) {
			wait = min(2*wait, logLongest) // writers are not kept waiting each second for somebody who reads for minutes
			continue
		}
		wait = logEvery
	}
}

func (t *logTender) long() bool {
	info, err := os.Stat(t.file.log())
	return err == nil && info.Size() > logLimit && t.file.check() == nil
}

// cut says whether the log is short now. A failure is no fault: somebody reads for long, and the next look comes soon.
func (t *logTender) cut(ctx context.Context) bool {
	var busy, pages, moved int
	err := t.pool.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &pages, &moved)
	return err == nil && busy == 0
}

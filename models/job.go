package models

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/migrations"
	"revidit/review/jobs"
)

// jobRow is a row of jobs. Texts of JSON are empty where there is none.
type jobRow struct {
	Kind       string `gorm:"primaryKey"`
	Key        string `gorm:"primaryKey"`
	Args       string
	Wanted     string
	Asked      int64
	RunArgs    string
	RunWanted  string
	Taken      int64
	Status     jobs.Status
	Slice      int64
	Cursor     string
	Done       int
	Total      int
	Tries      int
	Error      string
	AskedAt    instant
	StartedAt  *instant
	UpdatedAt  instant `gorm:"autoUpdateTime:false"`
	FinishedAt *instant
}

func (jobRow) TableName() string { return "jobs" }

func toJobRow(j jobs.Job, at time.Time) jobRow {
	return jobRow{Kind: string(j.Kind), Key: j.Key, Args: string(j.Args), Wanted: j.Wanted, Asked: 1,
		Status: jobs.Waiting, AskedAt: instantOf(at), UpdatedAt: instantOf(at)}
}

func (r jobRow) progress() jobs.Progress {
	return jobs.Progress{Job: jobs.Job{Kind: jobs.Kind(r.Kind), Key: r.Key, Wanted: r.Wanted, Args: jsonOrNil(r.Args)},
		Cursor: jsonOrNil(r.Cursor), Done: r.Done, Total: r.Total, Status: r.Status, Tries: r.Tries, Error: r.Error,
		AskedAt: r.AskedAt.Time, StartedAt: timeOrNil(r.StartedAt), UpdatedAt: r.UpdatedAt.Time, FinishedAt: timeOrNil(r.FinishedAt)}
}

func jsonOrNil(text string) json.RawMessage {
	if text == "" {
		return nil
	}
	return json.RawMessage(text)
}

// jobsListed bounds Jobs.
const jobsListed = 200

// Jobs are those that something has happened to last, the latest first, at most 200.
func (db *DB) Jobs(ctx context.Context) ([]jobs.Progress, error) {
	var rows []jobRow
	if err := db.read(ctx).Order("updated_at DESC, kind, key").Limit(jobsListed).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read the jobs: %w", err)
	}
	list := make([]jobs.Progress, 0, len(rows))
	for _, r := range rows {
		list = append(list, r.progress())
	}
	return list, nil
}

// Job is how far one job has come; a KindNotFound error where nobody has ever asked for it.
func (db *DB) Job(ctx context.Context, kind jobs.Kind, key string) (jobs.Progress, error) {
	row, err := find[jobRow](byID(ofKind(db.read(ctx), string(kind)), "key", key), "Nobody has asked for this yet.")
	return row.progress(), err
}

func ofKind(query *gorm.DB, kind string) *gorm.DB { return query.Where("kind = ?", kind) }

func ofJob(query *gorm.DB, kind, key string) *gorm.DB {
	return query.Where("kind = ? AND key = ?", kind, key)
}

// unserved: a run that sees what the asker has stored will begin anyway, for the same arguments.
const unserved = "asked > taken AND status <> 'failed' AND wanted = ? AND args = ?"

func (r jobRow) serves(j jobs.Job) bool {
	return r.Asked > r.Taken && r.Status != jobs.Failed && r.Wanted == j.Wanted && r.Args == string(j.Args)
}

// ask makes sure that a run of a job begins after the transaction, and says whether that needed anything to be written.
//
// Every act may ask for the same job, and acts must not wait for each other: where a run is about to begin anyway, the
// row is only read, without a lock. That run waits for the transactions that may have read so (see settle). This holds
// while a transaction reads what others have committed since it began (READ COMMITTED), and asks after it has written.
func (db *DB) ask(ctx context.Context, tx *gorm.DB, j jobs.Job) (bool, error) {
	if err := j.Check(); err != nil {
		return false, err
	}
	var rows []jobRow
	if err := ofJob(tx, string(j.Kind), j.Key).Limit(1).Find(&rows).Error; err != nil {
		return false, fmt.Errorf("ask for job %s: %w", j.Kind, err)
	}
	if len(rows) == 1 && rows[0].serves(j) {
		return false, nil
	}
	changed, err := upsertJob(tx, toJobRow(j, tx.NowFunc()), len(rows) == 0)
	if err != nil || !changed {
		return false, err
	}
	return true, db.queue.insert(tx, string(j.Kind), j.Key)
}

// askAll asks in the order of names, so that two transactions that ask for the same never wait for each other in a ring.
func (db *DB) askAll(ctx context.Context, tx *gorm.DB, asked []jobs.Job) (bool, error) {
	any := false
	asked = slices.SortedFunc(slices.Values(asked), byName)
	for i, j := range asked {
		if i > 0 && byName(asked[i-1], j) == 0 {
			return false, fmt.Errorf("job %s %q is asked for twice at once", j.Kind, j.Key)
		}
		changed, err := db.ask(ctx, tx, j)
		if err != nil {
			return false, err
		}
		any = any || changed
	}
	return any, nil
}

func byName(a, b jobs.Job) int { return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Key, b.Key)) }

// upsertJob is false where another transaction has asked for the same meanwhile. A row that was read may have expired since
// (see expireJobs): then it is made anew.
func upsertJob(tx *gorm.DB, row jobRow, isNew bool) (bool, error) {
	if !isNew {
		if changed, err := askAgain(tx, row); err != nil || changed {
			return changed, err
		}
	}
	made := tx.Clauses(clause.OnConflict{DoNothing: true}).Create(&row)
	if made.Error != nil {
		return false, fmt.Errorf("ask for job %s: %w", row.Kind, made.Error)
	}
	if made.RowsAffected == 1 {
		return true, nil
	}
	return askAgain(tx, row)
}

// askAgain is false where a run for the same is about to begin anyway, or where there is no row.
func askAgain(tx *gorm.DB, row jobRow) (bool, error) {
	// Of what the run under way has left only what no longer holds is cleared: that run ends first.
	changed := ofJob(tx.Model(&jobRow{}), row.Kind, row.Key).Where("NOT ("+unserved+")", row.Wanted, row.Args).Updates(map[string]any{
		"asked": gorm.Expr("asked + 1"), "wanted": row.Wanted, "args": row.Args, "asked_at": row.AskedAt, "updated_at": row.UpdatedAt,
		"finished_at": nil,
		"tries":       gorm.Expr("CASE WHEN status = 'running' THEN tries ELSE 0 END"),
		"error":       gorm.Expr("CASE WHEN status = 'running' THEN error ELSE '' END"),
		"status":      gorm.Expr("CASE WHEN status = 'running' THEN 'running' ELSE 'waiting' END"),
	})
	if changed.Error != nil {
		return false, fmt.Errorf("ask for job %s: %w", row.Kind, changed.Error)
	}
	return changed.RowsAffected == 1, nil
}

// restAfterFailure is how long a job that has failed is left alone, unless somebody asks for it.
const restAfterFailure = time.Hour

// askDue asks for a job that is due, unless a run for the same is under way, or the last one has failed not long ago.
func (db *DB) askDue(ctx context.Context, tx *gorm.DB, j jobs.Job) (bool, error) {
	var rows []jobRow
	if err := ofJob(tx, string(j.Kind), j.Key).Limit(1).Find(&rows).Error; err != nil {
		return false, fmt.Errorf("ask for job %s: %w", j.Kind, err)
	}
	if len(rows) == 1 {
		r := rows[0]
		same := r.RunWanted == j.Wanted && r.RunArgs == string(j.Args)
		if same && r.Status == jobs.Running || same && r.Status == jobs.Failed && tx.NowFunc().Sub(r.UpdatedAt.Time) < restAfterFailure {
			return false, nil
		}
	}
	return db.ask(ctx, tx, j)
}

// lockedJob is the row of a job that nobody else changes before the transaction ends; false where there is none.
func (db *DB) lockedJob(tx *gorm.DB, kind, key string) (jobRow, bool, error) {
	if db.dialect == migrations.Postgres { // SQLite has one writer anyway
		tx = tx.Clauses(clause.Locking{Strength: "NO KEY UPDATE"})
	}
	var rows []jobRow
	if err := ofJob(tx, kind, key).Limit(1).Find(&rows).Error; err != nil {
		return jobRow{}, false, fmt.Errorf("read job %s: %w", kind, err)
	}
	if len(rows) == 0 {
		return jobRow{}, false, nil
	}
	return rows[0], true, nil
}

func saveJob(tx *gorm.DB, row jobRow) error {
	if err := tx.Select("*").Updates(&row).Error; err != nil {
		return fmt.Errorf("store job %s: %w", row.Kind, err)
	}
	return nil
}

// beginRun makes a waiting job running.
func (r *jobRow) beginRun(at time.Time) {
	started := instantOf(at)
	r.Status, r.Taken, r.RunArgs, r.RunWanted = jobs.Running, r.Asked, r.Args, r.Wanted
	r.Cursor, r.Done, r.Total, r.StartedAt = "", 0, 0, &started
}

// store takes over what a slice returned, and says whether another one follows.
func (r *jobRow) store(cursor json.RawMessage, done, total int, more bool, at time.Time) bool {
	r.Slice++
	r.Done, r.Total, r.Tries, r.Error, r.UpdatedAt = done, total, 0, "", instantOf(at)
	switch {
	case more:
		r.Cursor = string(cursor)
		return true
	case r.Asked > r.Taken:
		r.Status, r.Cursor = jobs.Waiting, ""
		return true
	}
	r.finish(jobs.Done, at)
	return false
}

func (r *jobRow) fail(message string, at time.Time) {
	r.Error = message
	r.finish(jobs.Failed, at)
}

func (r *jobRow) finish(status jobs.Status, at time.Time) {
	finished := instantOf(at)
	r.Status, r.Cursor, r.UpdatedAt, r.FinishedAt = status, "", finished, &finished
}

// tellable is a message that both databases can hold and a page can show.
func tellable(message string) string {
	const longest = 500
	message = strings.ToValidUTF8(strings.ReplaceAll(message, "\x00", ""), "")
	if short := []rune(message); len(short) > longest {
		return string(short[:longest]) + "…"
	}
	return message
}

package models

import (
	"context"
	"fmt"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/migrations"
	"revidit/review/service"
)

// expiredAtOnce bounds how many rows of a table go in one transaction.
const expiredAtOnce = 500

// Expire implements service.Store. Rows that somebody is changing are passed over, so that it never waits for acts, and
// no act for it but for the moment of the commit.
func (db *DB) Expire(ctx context.Context, past service.Expiry) (gone int, err error) {
	err = db.write(ctx, func(tx *gorm.DB) error {
		gone = 0
		for _, expire := range []func() (int, error){
			func() (int, error) { return db.expireUploads(tx, past) },
			func() (int, error) {
				return expireRows[keyRow](db, tx, outdated{"old idempotency keys", []string{"person", "key"}, "at", instantOf(past.Keys)})
			},
			func() (int, error) {
				return expireRows[keptFormRow](db, tx, outdated{"forms that were kept", []string{"id"}, "at", instantOf(past.Forms)})
			},
			func() (int, error) {
				return expireRows[newsRow](db, tx, outdated{"old news", []string{"id"}, "at", instantOf(past.News)})
			},
			func() (int, error) {
				return expireRows[letterRow](db, tx, outdated{"old letters", []string{"id"}, "made_at", instantOf(past.Letters)})
			},
			func() (int, error) { return expireIntakes(tx, past.Forms) },
			// How far jobs have come: whoever asks for one at the same time makes its row anew.
			func() (int, error) {
				return expireRows[jobRow](db, tx, outdated{"jobs that have ended", []string{"kind", "key"}, "finished_at", instantOf(past.Jobs)})
			},
			func() (int, error) {
				return expireRows[sessionRow](db, tx, outdated{"logins that have run out", []string{"id"}, "expires_at", instantOf(past.Sessions)})
			},
			func() (int, error) {
				return expireRows[accountLinkRow](db, tx, outdated{"links of accounts", []string{"id"}, "expires_at", instantOf(past.Links)})
			},
			func() (int, error) {
				return expireRows[resetRequestRow](db, tx, outdated{"what was asked for another password", []string{"id"}, "made_at", instantOf(past.Links)})
			},
			func() (int, error) {
				return expireRows[loginStepRow](db, tx, outdated{"logins that were never ended", []string{"digest"}, "expires_at", instantOf(past.Sessions)})
			},
			// Counts of attempts that say nothing any more.
			func() (int, error) {
				return expireRows[attemptRow](db, tx, outdated{"forgotten attempts to log in", []string{"key"}, "until", past.Sessions.UnixMicro()})
			},
		} {
			n, err := expire()
			if err != nil {
				return err
			}
			gone += n
		}
		return nil
	})
	if err != nil {
		return 0, err
	}
	return gone, nil
}

// locked keeps rows that a query finds from changing before the transaction ends, and leaves out those that somebody else
// keeps so.
func (db *DB) locked(query *gorm.DB) *gorm.DB {
	if db.dialect == migrations.Postgres { // SQLite has one writer anyway
		query = query.Clauses(clause.Locking{Strength: "UPDATE", Options: "SKIP LOCKED"})
	}
	return query
}

func (db *DB) expireUploads(tx *gorm.DB, past service.Expiry) (int, error) {
	var ids []string
	find := tx.Model(&uploadRow{}).Where("specimen_id IS NULL AND draft_id IS NULL AND at < ?", instantOf(past.Uploads)).Order("at").Limit(expiredAtOnce)
	if err := db.locked(find).Pluck("id", &ids).Error; err != nil {
		return 0, fmt.Errorf("find uploads that nothing took: %w", err)
	}
	if len(ids) == 0 {
		return 0, nil
	}
	if err := tx.Where("id IN ?", ids).Delete(&uploadRow{}).Error; err != nil {
		return 0, fmt.Errorf("remove uploads that nothing took: %w", err)
	}
	return len(ids), nil
}

// outdated are rows of which a time lies before another one.
type outdated struct {
	what   string
	key    []string // columns of the primary key
	column string   // that holds the time
	before any
}

// expireRows removes some of the rows of a type that are outdated, the oldest first.
func expireRows[R any](db *DB, tx *gorm.DB, o outdated) (int, error) {
	var rows []R
	find := tx.Select(o.key).Where(o.column+" < ?", o.before).Order(o.column).Limit(expiredAtOnce)
	if err := db.locked(find).Find(&rows).Error; err != nil {
		return 0, fmt.Errorf("find %s: %w", o.what, err)
	}
	if len(rows) == 0 {
		return 0, nil
	}
	if err := tx.Delete(&rows).Error; err != nil {
		return 0, fmt.Errorf("remove %s: %w", o.what, err)
	}
	return len(rows), nil
}

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
		for _, expire := range []func(*gorm.DB, service.Expiry) (int, error){db.expireUploads, db.expireKeys, db.expireJobs, db.expireSessions, db.expireAttempts} {
			n, err := expire(tx, past)
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
	find := tx.Model(&uploadRow{}).Where("specimen_id IS NULL AND at < ?", instantOf(past.Uploads)).Order("at").Limit(expiredAtOnce)
	if err := db.locked(find).Pluck("id", &ids).Error; err != nil {
		return 0, fmt.Errorf("find uploads that no specimen took: %w", err)
	}
	if len(ids) == 0 {
		return 0, nil
	}
	if err := tx.Where("id IN ?", ids).Delete(&uploadRow{}).Error; err != nil {
		return 0, fmt.Errorf("remove uploads that no specimen took: %w", err)
	}
	return len(ids), nil
}

func (db *DB) expireKeys(tx *gorm.DB, past service.Expiry) (int, error) {
	var rows []keyRow
	find := tx.Select("person", "key").Where("at < ?", instantOf(past.Keys)).Order("at").Limit(expiredAtOnce)
	if err := db.locked(find).Find(&rows).Error; err != nil {
		return 0, fmt.Errorf("find old idempotency keys: %w", err)
	}
	if err := deleteRows(tx, rows); err != nil {
		return 0, fmt.Errorf("remove old idempotency keys: %w", err)
	}
	return len(rows), nil
}

// expireJobs removes how far jobs have come that have ended. Whoever asks for one at the same time makes its row anew.
func (db *DB) expireJobs(tx *gorm.DB, past service.Expiry) (int, error) {
	var rows []jobRow
	find := tx.Select("kind", "key").Where("finished_at < ?", instantOf(past.Jobs)).Order("finished_at").Limit(expiredAtOnce)
	if err := db.locked(find).Find(&rows).Error; err != nil {
		return 0, fmt.Errorf("find jobs that have ended: %w", err)
	}
	if err := deleteRows(tx, rows); err != nil {
		return 0, fmt.Errorf("remove jobs that have ended: %w", err)
	}
	return len(rows), nil
}

// expireSessions removes logins that have run out.
func (db *DB) expireSessions(tx *gorm.DB, past service.Expiry) (int, error) {
	var rows []sessionRow
	find := tx.Select("id").Where("expires_at < ?", instantOf(past.Sessions)).Order("expires_at").Limit(expiredAtOnce)
	if err := db.locked(find).Find(&rows).Error; err != nil {
		return 0, fmt.Errorf("find logins that have run out: %w", err)
	}
	if err := deleteRows(tx, rows); err != nil {
		return 0, fmt.Errorf("remove logins that have run out: %w", err)
	}
	return len(rows), nil
}

// expireAttempts removes counts of attempts to log in that say nothing any more.
func (db *DB) expireAttempts(tx *gorm.DB, past service.Expiry) (int, error) {
	var rows []attemptRow
	find := tx.Select("key").Where("until < ?", past.Sessions.UnixMicro()).Order("until").Limit(expiredAtOnce)
	if err := db.locked(find).Find(&rows).Error; err != nil {
		return 0, fmt.Errorf("find forgotten attempts to log in: %w", err)
	}
	if err := deleteRows(tx, rows); err != nil {
		return 0, fmt.Errorf("remove forgotten attempts to log in: %w", err)
	}
	return len(rows), nil
}

// deleteRows removes rows by their keys.
func deleteRows[R any](tx *gorm.DB, rows []R) error {
	if len(rows) == 0 {
		return nil
	}
	return tx.Delete(&rows).Error
}

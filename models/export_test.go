package models

import (
	"context"
	"database/sql"
	"errors"

	"gorm.io/gorm"
)

// Raw is the connection pool, for tests that go past the package on purpose.
func (db *DB) Raw() *sql.DB { return db.pool }

// Watch hands every query to a test, with its values.
func (db *DB) Watch(visit func(query string, values []any)) error {
	after := func(tx *gorm.DB) {
		if !tx.DryRun { // which a part of another query is
			visit(tx.Statement.SQL.String(), tx.Statement.Vars)
		}
	}
	handles := []*gorm.DB{db.reader}
	if db.gorm != db.reader {
		handles = append(handles, db.gorm) // what is looked for in order to write
	}
	for _, handle := range handles {
		on := handle.Callback()
		if err := errors.Join(on.Query().After("gorm:query").Register("watch", after), on.Row().After("gorm:row").Register("watch", after)); err != nil {
			return err
		}
	}
	return nil
}

// Reading holds a snapshot while something is done.
func (db *DB) Reading(ctx context.Context, do func()) error {
	return db.snapshot(ctx, func(tx *gorm.DB) error {
		var n int64
		if err := tx.Model(&eventRow{}).Count(&n).Error; err != nil {
			return err
		}
		do()
		return tx.Model(&eventRow{}).Count(&n).Error
	})
}

// LeaveLog stops cutting SQLite's log.
func (db *DB) LeaveLog() error {
	err := db.tender.end()
	db.tender = nil
	return err
}

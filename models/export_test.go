package models

import (
	"context"
	"database/sql"
	"errors"

	"github.com/libtnb/sqlite"
	"gorm.io/gorm"

	"revidit/migrations"
)

// Raw is the connection pool, for tests that go past the package on purpose.
func (db *DB) Raw() *sql.DB { return db.pool }

// RawReaders is the pool that only queries, for tests that look at something within a transaction of the other one.
func (db *DB) RawReaders() *sql.DB { return db.readers }

// Waiting is how many wait to write to an SQLite file.
func (db *DB) Waiting() int { return db.writer.turns.length() }

// OpenWriters opens an SQLite file as Open does, or with other ways for those who want to write at once: "busy", where eight
// connections look whether the file is free, or "woken", where they wait for one connection.
func OpenWriters(ctx context.Context, path, how string) (*DB, error) {
	if how == "queue" {
		return Open(ctx, path)
	}
	dsn, err := sqliteFile(path)
	if err != nil {
		return nil, err
	}
	limit := sqlitePool
	if how == "woken" {
		limit = func(pool *sql.DB) { pool.SetMaxOpenConns(1) }
	}
	file, err := openedFile(path)
	if err != nil {
		return nil, err
	}
	handle, pool, err := open(ctx, sqlite.Open(dsn+sqliteSettings(writing).Encode()), file, limit)
	if err != nil {
		return nil, err
	}
	return openReaders(ctx, &DB{gorm: handle, pool: pool, dialect: migrations.SQLite, file: file}, dsn)
}

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

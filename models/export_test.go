package models

import (
	"database/sql"

	"gorm.io/gorm"
)

// Raw is the connection pool, for tests that go past the package on purpose.
func (db *DB) Raw() *sql.DB { return db.pool }

// Watch hands every query of a reader to a test, with its values.
func (db *DB) Watch(visit func(query string, values []any)) error {
	after := func(tx *gorm.DB) {
		if !tx.DryRun { // which a part of another query is
			visit(tx.Statement.SQL.String(), tx.Statement.Vars)
		}
	}
	on := db.reader.Callback() // of queries that write nothing
	if err := on.Query().After("gorm:query").Register("watch", after); err != nil {
		return err
	}
	return on.Row().After("gorm:row").Register("watch", after)
}

package models

import "database/sql"

// Raw is the connection pool, for tests that go past the package on purpose.
func (db *DB) Raw() *sql.DB { return db.pool }

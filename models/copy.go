package models

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/jackc/pgx/v5"

	"revidit/migrations"
	"revidit/review"
	"revidit/review/service"
)

// Copied says what a copy of a database holds.
type Copied struct {
	Dialect string `json:"dialect"`
	Schema  int64  `json:"schema"` // version
	Club    string `json:"club"`   // id, empty where it was never told
	Events  int64  `json:"events"`
	// Photos are the SHA-256, in hex, of the originals that it knows, by whether a specimen or a draft has them.
	Photos map[string]bool `json:"-"`
}

// Files of a copy, in its folder.
const (
	copiedSQLite = "revidit.sqlite"
	copiedTables = "tables.json"
)

// copiedTable is a table of PostgreSQL; its rows stand in a file of its name, as COPY writes them in binary.
type copiedTable struct {
	Name    string   `json:"name"`
	Columns []string `json:"columns"`
}

func (t copiedTable) file() string { return t.Name + ".copy" }

// CopyTo writes all that the database holds at one moment into a folder, which is there, while others go on: everything that
// was stored before it began is in it. SQLite's is a database file (https://www.sqlite.org/lang_vacuum.html, "VACUUM
// INTO"), without what was erased; PostgreSQL's are the rows of its tables. Queued slices of jobs stay behind on PostgreSQL: jobs find
// them missing and begin them again. SQLite's log grows while this lasts.
func (db *DB) CopyTo(ctx context.Context, folder string) (Copied, error) {
	ctx = service.Unhurried(ctx)
	if db.dialect == migrations.Postgres {
		return db.copyPostgres(ctx, folder)
	}
	return db.copySQLite(ctx, folder)
}

func (db *DB) copySQLite(ctx context.Context, folder string) (made Copied, err error) {
	place := filepath.Join(folder, copiedSQLite)
	from, err := sqliteFile(db.file.path)
	if err != nil {
		return made, err
	}
	source, err := sql.Open("sqlite", from) // not one of the readers, who may write nothing anywhere
	if err != nil {
		return made, fmt.Errorf("open the database: %w", err)
	}
	defer source.Close()
	if _, err := source.ExecContext(ctx, "VACUUM INTO ?", place); err != nil {
		return made, fmt.Errorf("copy the database: %w", err)
	}
	if err := os.Chmod(place, 0o600); err != nil {
		return made, err
	}
	dsn, err := sqliteFile(place)
	if err != nil {
		return made, err
	}
	copied, err := sql.Open("sqlite", dsn+"mode=ro&immutable=1")
	if err != nil {
		return made, fmt.Errorf("open the copy: %w", err)
	}
	defer copied.Close()
	return describe(ctx, migrations.SQLite, func(statement string) (rows, error) { return copied.QueryContext(ctx, statement) })
}

// rows are what both drivers return of a query.
type rows interface {
	Next() bool
	Scan(dest ...any) error
	Err() error
}

// describe reads what a copy holds, from the copy or in its snapshot.
func describe(ctx context.Context, dialect string, query func(statement string) (rows, error)) (Copied, error) {
	made := Copied{Dialect: dialect, Photos: map[string]bool{}}
	var digest string
	var had bool
	for _, part := range []struct {
		statement string
		into      []any
		keep      func()
	}{
		{"SELECT COALESCE(max(version_id), 0) FROM goose_db_version WHERE is_applied", []any{&made.Schema}, func() {}},
		{"SELECT count(*) FROM events", []any{&made.Events}, func() {}},
		{"SELECT id FROM club", []any{&made.Club}, func() {}},
		{"SELECT sha256, specimen_id IS NOT NULL OR draft_id IS NOT NULL FROM uploads", []any{&digest, &had}, func() {
			made.Photos[digest] = made.Photos[digest] || had
		}},
	} {
		found, err := query(part.statement)
		if err != nil {
			return made, fmt.Errorf("read what the copy holds: %w", err)
		}
		for found.Next() {
			if err := found.Scan(part.into...); err != nil {
				return made, fmt.Errorf("read what the copy holds: %w", err)
			}
			part.keep()
		}
		if err := found.Err(); err != nil {
			return made, fmt.Errorf("read what the copy holds: %w", err)
		}
	}
	return made, ctx.Err()
}

// ofCopy are the tables that are copied: not river's, whose rows can all be derived, nor the migrator's own.
const ofCopy = `SELECT c.relname, array_agg(a.attname::text ORDER BY a.attnum) FROM pg_class AS c
	JOIN pg_attribute AS a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped AND a.attgenerated = ''
	WHERE c.relkind = 'r' AND c.relnamespace = current_schema()::regnamespace AND c.relname NOT LIKE 'river%' AND c.relname <> 'goose_db_version'
	GROUP BY c.relname ORDER BY c.relname`

func tablesToCopy(ctx context.Context, pg *pgx.Conn) ([]copiedTable, error) {
	found, err := pg.Query(ctx, ofCopy)
	if err != nil {
		return nil, fmt.Errorf("list tables: %w", err)
	}
	tables, err := pgx.CollectRows(found, pgx.RowToStructByPos[copiedTable])
	if err != nil {
		return nil, fmt.Errorf("list tables: %w", err)
	}
	return tables, nil
}

func (db *DB) copyPostgres(ctx context.Context, folder string) (made Copied, err error) {
	err = db.withConnection(ctx, func(pg *pgx.Conn) error {
		tx, err := pg.BeginTx(ctx, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly})
		if err != nil {
			return fmt.Errorf("begin the copy: %w", err)
		}
		defer tx.Rollback(context.WithoutCancel(ctx)) // it has changed nothing
		tables, err := tablesToCopy(ctx, pg)
		if err != nil {
			return err
		}
		for _, t := range tables {
			if err := copyOut(ctx, pg, t, folder); err != nil {
				return fmt.Errorf("copy table %s: %w", t.Name, err)
			}
		}
		if err := writeJSON(filepath.Join(folder, copiedTables), tables); err != nil {
			return err
		}
		made, err = describe(ctx, migrations.Postgres, func(statement string) (rows, error) { return tx.Query(ctx, statement) })
		return err
	})
	return made, err
}

func copyOut(ctx context.Context, pg *pgx.Conn, t copiedTable, folder string) (err error) {
	file, err := os.OpenFile(filepath.Join(folder, t.file()), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = pg.PgConn().CopyTo(ctx, file, "COPY "+t.columns()+" TO STDOUT (FORMAT binary)")
	if closed := file.Close(); err == nil {
		err = closed
	}
	return err
}

// columns are the table and its columns as COPY wants them.
func (t copiedTable) columns() string {
	text := pgx.Identifier{t.Name}.Sanitize() + " ("
	for i, c := range t.Columns {
		if i > 0 {
			text += ", "
		}
		text += pgx.Identifier{c}.Sanitize()
	}
	return text + ")"
}

func writeJSON(path string, what any) error {
	text, err := json.MarshalIndent(what, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(path, append(text, '\n'), 0o600)
}

// CheckEmpty returns an error that says what to do unless a database is good to restore a copy into: without tables, or with
// those of this program and nothing in them.
func (db *DB) CheckEmpty(ctx context.Context) error {
	var tables int
	count := "SELECT count(*) FROM sqlite_schema WHERE type = 'table'"
	if db.dialect == migrations.Postgres {
		count = "SELECT count(*) FROM pg_class WHERE relkind = 'r' AND relnamespace = current_schema()::regnamespace"
	}
	if err := db.read(ctx).Raw(count).Scan(&tables).Error; err != nil {
		return fmt.Errorf("look whether the database is empty: %w", err)
	}
	if tables == 0 {
		return nil
	}
	club, err := db.Club(ctx)
	if err == nil && club.Empty && club.ID == "" {
		return nil
	}
	return review.Errorf(review.KindConflict, "The database %s is not empty. Nothing was changed. A copy is restored into an empty database: make one, and name it with --database.", db.place)
}

// RestoreFrom fills a database, which CheckEmpty has found empty, from the folder of a copy of PostgreSQL: all of it or nothing
// but an empty schema. Migrate has to follow. SQLite's copy is put in place as a file.
func (db *DB) RestoreFrom(ctx context.Context, folder string, made Copied) error {
	ctx = service.Unhurried(ctx)
	text, err := os.ReadFile(filepath.Join(folder, copiedTables))
	if err != nil {
		return fmt.Errorf("read the tables of the copy: %w", err)
	}
	var tables []copiedTable
	if err := json.Unmarshal(text, &tables); err != nil {
		return fmt.Errorf("read the tables of the copy: %w", err)
	}
	if err := migrations.ApplyUntil(ctx, db.pool, db.dialect, made.Schema); err != nil {
		return err
	}
	return db.withConnection(ctx, func(pg *pgx.Conn) error {
		if err := executed(ctx, pg, "BEGIN"); err != nil {
			return err
		}
		if err := copyIn(ctx, pg, tables, folder); err != nil {
			_, _ = pg.Exec(context.WithoutCancel(ctx), "ROLLBACK") // a connection that is gone has rolled back
			return err
		}
		return executed(ctx, pg, "COMMIT", "ANALYZE")
	})
}

// copyIn has keys and references set aside meanwhile, and made again, in one transaction.
func copyIn(ctx context.Context, pg *pgx.Conn, tables []copiedTable, folder string) error {
	set, err := setAside(ctx, pg)
	if err != nil {
		return err
	}
	for _, t := range tables {
		file, err := os.Open(filepath.Join(folder, t.file()))
		if err != nil {
			return fmt.Errorf("restore table %s: %w", t.Name, err)
		}
		err = executed(ctx, pg, "TRUNCATE "+pgx.Identifier{t.Name}.Sanitize())
		if err == nil {
			_, err = pg.PgConn().CopyFrom(ctx, file, "COPY "+t.columns()+" FROM STDIN (FORMAT binary)")
		}
		file.Close()
		if err != nil {
			return fmt.Errorf("restore table %s: %w", t.Name, err)
		}
	}
	for _, statements := range [][]string{set.keys, set.indexes, set.references, set.guards} {
		if err := executed(ctx, pg, statements...); err != nil {
			return err
		}
	}
	return nil
}

// EmptyAgain takes everything out of a database on PostgreSQL into which RestoreFrom has put it, so that CheckEmpty holds again: all of it or
// nothing. It is for a restored copy that turns out not to be what was signed, before anybody has used it.
func (db *DB) EmptyAgain(ctx context.Context) error {
	return db.withConnection(service.Unhurried(ctx), func(pg *pgx.Conn) error {
		tx, err := pg.Begin(ctx)
		if err != nil {
			return fmt.Errorf("begin to empty the database: %w", err)
		}
		defer tx.Rollback(context.WithoutCancel(ctx)) // does nothing after the commit
		tables, err := tablesToCopy(ctx, pg)
		if err != nil || len(tables) == 0 {
			return err
		}
		enable, err := guards(ctx, pg)
		if err != nil {
			return err
		}
		names := make([]string, len(tables))
		for i, t := range tables {
			names[i] = pgx.Identifier{t.Name}.Sanitize()
		}
		if err := executed(ctx, pg, append([]string{"TRUNCATE " + strings.Join(names, ", ")}, enable...)...); err != nil {
			return err
		}
		return tx.Commit(ctx)
	})
}

// Restored looks at a database that was restored and migrated: it has as many events as the copy says. It then ends all logins,
// some of which may have been ended since, and forgets who was serving it and the slices of jobs that were queued, which are
// found missing and begun again.
func (db *DB) Restored(ctx context.Context, made Copied) error {
	var events int64
	if err := db.read(ctx).Raw("SELECT count(*) FROM events").Scan(&events).Error; err != nil {
		return fmt.Errorf("count the events: %w", err)
	}
	if events != made.Events {
		return fmt.Errorf("%d events were restored, and the copy has %d: it is not to be used", events, made.Events)
	}
	for _, table := range []string{"machine_tokens", "sessions", "login_attempts", "river_leader", "river_job"} {
		if err := db.gorm.WithContext(ctx).Exec("DELETE FROM " + table).Error; err != nil {
			return fmt.Errorf("forget who was at work: %w", err)
		}
	}
	return nil
}

package models

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"
)

// rowsAStatement is how many rows one statement inserts; SQLite takes 32,766 values.
const rowsAStatement = 20

// fillSQLite writes loads without a journal, by the only connection that there is meanwhile.
func (db *DB) fillSQLite(ctx context.Context, loads <-chan load) error {
	db.readers.SetMaxIdleConns(0) // closes those that are open: no other may know the file while it has no journal
	defer sqlitePool(db.readers)
	connection, err := db.pool.Conn(ctx)
	if err != nil {
		return fmt.Errorf("reach the database: %w", err)
	}
	defer connection.Close()
	f := sqliteFiller{Conn: connection, inserts: map[string]*sql.Stmt{}}
	if err := f.journal(ctx, "off"); err != nil {
		return err
	}
	err = f.run(ctx, "PRAGMA synchronous = OFF", "PRAGMA foreign_keys = OFF", "PRAGMA cache_size = -65536")
	if err == nil {
		err = f.fill(ctx, loads)
	}
	if err != nil {
		return err
	}
	return f.journal(ctx, "wal")
}

type sqliteFiller struct {
	*sql.Conn
	inserts map[string]*sql.Stmt
}

func (f *sqliteFiller) journal(ctx context.Context, mode string) error {
	var now string
	if err := f.QueryRowContext(ctx, "PRAGMA journal_mode = "+mode).Scan(&now); err != nil {
		return fmt.Errorf("change the journal: %w", err)
	}
	if now != mode {
		return errors.New("the database file is in use; nothing was stored")
	}
	return nil
}

func (f *sqliteFiller) run(ctx context.Context, statements ...string) error {
	for _, s := range statements {
		if _, err := f.ExecContext(ctx, s); err != nil {
			return fmt.Errorf("%s: %w", s, err)
		}
	}
	return nil
}

func (f *sqliteFiller) fill(ctx context.Context, loads <-chan load) error {
	triggers, indexes, err := f.setAside(ctx)
	if err != nil {
		return err
	}
	for l := range loads {
		if err := f.run(ctx, "BEGIN IMMEDIATE"); err != nil {
			return err
		}
		for _, t := range l {
			if err := f.insert(ctx, t); err != nil {
				return fmt.Errorf("fill %s: %w", t.table, err)
			}
		}
		if err := f.run(ctx, "COMMIT"); err != nil {
			return err
		}
	}
	for _, s := range f.inserts {
		if err := s.Close(); err != nil {
			return err
		}
	}
	if err := f.run(ctx, append(indexes, triggers...)...); err != nil {
		return err
	}
	if err := f.checkKeys(ctx); err != nil {
		return err
	}
	// Everything is brought to the disk before the journal is there again.
	return f.run(ctx, "PRAGMA synchronous = FULL", "PRAGMA foreign_keys = ON", "BEGIN IMMEDIATE", "PRAGMA user_version = 0", "COMMIT")
}

// setAside drops the triggers that number events and look for gaps, and all indexes that are no constraint, and returns
// the statements that make them again.
func (f *sqliteFiller) setAside(ctx context.Context) (triggers, indexes []string, err error) {
	const list = "SELECT type, name, sql FROM sqlite_schema WHERE type = 'index' AND sql IS NOT NULL OR " +
		"type = 'trigger' AND name IN ('events_refuse_gap', 'events_refuse_replace', 'events_take_position', 'event_positions_refuse_gap', 'event_positions_refuse_replace')"
	rows, err := f.QueryContext(ctx, list)
	if err != nil {
		return nil, nil, fmt.Errorf("list indexes: %w", err)
	}
	defer rows.Close()
	var drop []string
	for rows.Next() {
		var kind, name, definition string
		if err := rows.Scan(&kind, &name, &definition); err != nil {
			return nil, nil, fmt.Errorf("list indexes: %w", err)
		}
		drop = append(drop, "DROP "+kind+` "`+name+`"`)
		if kind == "trigger" {
			triggers = append(triggers, definition)
			continue
		}
		indexes = append(indexes, definition)
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return nil, nil, fmt.Errorf("list indexes: %w", err)
	}
	return triggers, indexes, f.run(ctx, drop...)
}

// checkKeys refuses rows that refer to none.
func (f *sqliteFiller) checkKeys(ctx context.Context) error {
	var table, parent string
	var row, key sql.NullInt64
	err := f.QueryRowContext(ctx, "PRAGMA foreign_key_check").Scan(&table, &row, &parent, &key)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("check references: %w", err)
	}
	return fmt.Errorf("a row of %s refers to a row of %s that is not there", table, parent)
}

func (f *sqliteFiller) insert(ctx context.Context, t *tableLoad) error {
	var args []any
	for rest := t.rows; len(rest) > 0; {
		n := 1
		if len(rest) >= rowsAStatement {
			n = rowsAStatement
		}
		statement, err := f.statement(ctx, t, n)
		if err != nil {
			return err
		}
		args = args[:0]
		for _, row := range rest[:n] {
			for _, value := range row {
				if at, ok := value.(time.Time); ok {
					value = at.UTC().Format(instantLayout)
				}
				args = append(args, value)
			}
		}
		if _, err := statement.ExecContext(ctx, args...); err != nil {
			return err
		}
		rest = rest[n:]
	}
	return nil
}

// statement inserts n rows into a table.
func (f *sqliteFiller) statement(ctx context.Context, t *tableLoad, n int) (*sql.Stmt, error) {
	key := fmt.Sprint(t.table, n)
	if s, ok := f.inserts[key]; ok {
		return s, nil
	}
	row := "(" + strings.Repeat("?, ", len(t.columns)-1) + "?)"
	s, err := f.PrepareContext(ctx, `INSERT INTO "`+t.table+`" ("`+strings.Join(t.columns, `", "`)+`") VALUES `+strings.Repeat(row+", ", n-1)+row)
	f.inserts[key] = s
	return s, err
}

package models

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/stdlib"
)

// fillPostgres writes loads with COPY in one transaction, and lets the statistics be made that queries are planned by.
func (db *DB) fillPostgres(ctx context.Context, loads <-chan load) error {
	connection, err := db.pool.Conn(ctx)
	if err != nil {
		return fmt.Errorf("reach the database: %w", err)
	}
	defer connection.Close()
	return connection.Raw(func(driver any) error {
		pg := driver.(*stdlib.Conn).Conn()
		tx, err := pg.Begin(ctx)
		if err != nil {
			return fmt.Errorf("begin to fill: %w", err)
		}
		if err := copyLoads(ctx, tx, loads); err != nil {
			return errors.Join(err, tx.Rollback(context.WithoutCancel(ctx)))
		}
		if err := tx.Commit(ctx); err != nil {
			return fmt.Errorf("store all: %w", err)
		}
		return executed(ctx, pg, "VACUUM (ANALYZE)")
	})
}

func copyLoads(ctx context.Context, tx pgx.Tx, loads <-chan load) error {
	quick := []string{"SET LOCAL synchronous_commit = off", "SET LOCAL maintenance_work_mem = '512MB'"}
	for _, t := range numberingTriggers {
		quick = append(quick, fmt.Sprintf("ALTER TABLE %s DISABLE TRIGGER %s", t.table, t.name))
	}
	if err := executed(ctx, tx, quick...); err != nil {
		return err
	}
	again, err := setAside(ctx, tx)
	if err != nil {
		return err
	}
	for l := range loads {
		for _, t := range l {
			if _, err := tx.CopyFrom(ctx, pgx.Identifier{t.table}, t.columns, pgx.CopyFromRows(t.rows)); err != nil {
				return fmt.Errorf("fill %s: %w", t.table, err)
			}
		}
	}
	for _, t := range numberingTriggers {
		again = append(again, fmt.Sprintf("ALTER TABLE %s ENABLE TRIGGER %s", t.table, t.name))
	}
	return executed(ctx, tx, again...)
}

// numberingTriggers see to what Fill sees to itself.
var numberingTriggers = []struct{ table, name string }{
	{"events", "events_refuse_gap"}, {"events", "events_wait"}, {"event_positions", "event_positions_refuse_gap"},
}

// setAside drops all references and all indexes that are no constraint, and returns the statements that make them again,
// by which every reference is checked. References go first: checked row by row they lock each row that is referred to.
func setAside(ctx context.Context, tx pgx.Tx) (again []string, err error) {
	const references = `SELECT format('ALTER TABLE %s DROP CONSTRAINT %I', conrelid::regclass, conname),
		format('ALTER TABLE %s ADD CONSTRAINT %I %s', conrelid::regclass, conname, pg_get_constraintdef(oid))
		FROM pg_constraint WHERE contype = 'f' AND connamespace = current_schema()::regnamespace`
	const indexes = `SELECT format('DROP INDEX %s', i.indexrelid::regclass), pg_get_indexdef(i.indexrelid) FROM pg_index AS i
		JOIN pg_class AS c ON c.oid = i.indexrelid
		WHERE c.relnamespace = current_schema()::regnamespace AND NOT EXISTS (SELECT 1 FROM pg_constraint AS k WHERE k.conindid = i.indexrelid AND k.contype <> 'f')`
	for _, list := range []string{references, indexes} {
		rows, err := tx.Query(ctx, list)
		if err != nil {
			return nil, fmt.Errorf("list references and indexes: %w", err)
		}
		var drop []string
		var dropped, made string
		_, err = pgx.ForEachRow(rows, []any{&dropped, &made}, func() error {
			drop, again = append(drop, dropped), append(again, made)
			return nil
		})
		if err != nil {
			return nil, fmt.Errorf("list references and indexes: %w", err)
		}
		if err := executed(ctx, tx, drop...); err != nil {
			return nil, err
		}
	}
	slices.Reverse(again) // a reference may need an index
	return again, nil
}

// executed runs statements in order.
func executed(ctx context.Context, on interface {
	Exec(ctx context.Context, sql string, args ...any) (pgconn.CommandTag, error)
}, statements ...string) error {
	for _, s := range statements {
		if _, err := on.Exec(ctx, s); err != nil {
			return fmt.Errorf("%s: %w", s, err)
		}
	}
	return nil
}

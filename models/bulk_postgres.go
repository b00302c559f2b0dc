package models

import (
	"context"
	"errors"
	"fmt"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/stdlib"
	"golang.org/x/sync/errgroup"
)

// fillPostgres writes loads with COPY over two connections, and lets the statistics be made that queries are planned by.
// References, keys and indexes are set aside for that time.
func (db *DB) fillPostgres(ctx context.Context, loads <-chan load) error {
	return db.withConnection(ctx, func(first *pgx.Conn) error {
		return db.withConnection(ctx, func(second *pgx.Conn) error {
			set, err := setAside(ctx, first)
			if err != nil {
				return err
			}
			if err := copyLoads(ctx, first, second, loads); err != nil {
				return err
			}
			return set.back(ctx, first, second)
		})
	})
}

// withConnection hands out a connection of the driver itself.
func (db *DB) withConnection(ctx context.Context, use func(*pgx.Conn) error) error {
	connection, err := db.pool.Conn(ctx)
	if err != nil {
		return fmt.Errorf("reach the database: %w", err)
	}
	defer connection.Close()
	return connection.Raw(func(driver any) error { return use(driver.(*stdlib.Conn).Conn()) })
}

// copyLoads writes in a transaction on each connection: events, which are half of everything, go alone.
func copyLoads(ctx context.Context, first, second *pgx.Conn, loads <-chan load) error {
	events, err := first.Begin(ctx)
	if err != nil {
		return fmt.Errorf("begin to fill: %w", err)
	}
	defer events.Rollback(context.WithoutCancel(ctx)) // does nothing after the commit
	rest, err := second.Begin(ctx)
	if err != nil {
		return fmt.Errorf("begin to fill: %w", err)
	}
	defer rest.Rollback(context.WithoutCancel(ctx))
	begun := map[string]bool{}
	for l := range loads {
		if err := emptied(ctx, events, rest, l, begun); err != nil {
			return err
		}
		if err := copyLoad(ctx, events, rest, l); err != nil {
			return err
		}
	}
	if err := errors.Join(events.Commit(ctx), rest.Commit(ctx)); err != nil {
		return fmt.Errorf("store all: %w", err)
	}
	return nil
}

// emptied truncates each table, which is empty, before its first rows: a server with wal_level=minimal then writes nothing
// of them to its log (PostgreSQL 17 documentation, section 14.4.7, "Disable WAL Archival and Streaming Replication").
func emptied(ctx context.Context, events, rest pgx.Tx, l load, begun map[string]bool) error {
	for _, t := range l {
		if begun[t.table] {
			continue
		}
		begun[t.table] = true
		tx := rest
		if isEvents(t) {
			tx = events
		}
		var used bool // by what a migration put there
		name := pgx.Identifier{t.table}.Sanitize()
		if err := tx.QueryRow(ctx, "SELECT EXISTS (SELECT FROM "+name+")").Scan(&used); err != nil {
			return fmt.Errorf("begin to fill %s: %w", t.table, err)
		}
		if used {
			continue
		}
		if _, err := tx.Exec(ctx, "TRUNCATE "+name); err != nil {
			return fmt.Errorf("begin to fill %s: %w", t.table, err)
		}
	}
	return nil
}

func isEvents(t *tableLoad) bool { return t.table == eventRow{}.TableName() }

func copyLoad(ctx context.Context, events, rest pgx.Tx, l load) error {
	group, ctx := errgroup.WithContext(ctx)
	of := func(mine func(*tableLoad) bool, tx pgx.Tx) {
		group.Go(func() error {
			for _, t := range l {
				if !mine(t) {
					continue
				}
				if _, err := tx.CopyFrom(ctx, pgx.Identifier{t.table}, t.columns, pgx.CopyFromRows(t.rows)); err != nil {
					return fmt.Errorf("fill %s: %w", t.table, err)
				}
			}
			return nil
		})
	}
	of(isEvents, events)
	of(func(t *tableLoad) bool { return !isEvents(t) }, rest)
	return group.Wait()
}

// aside are statements that make again what was dropped to fill tables quickly.
type aside struct {
	references, keys, indexes []string
	guards                    []string
}

// setAside drops all references, keys and other indexes. References go first: checked row by row they lock each row that
// is referred to, and they rest on keys. Keys of random ids, kept while rows come in, are written to all over: made at the
// end from sorted rows they cost a fraction.
func setAside(ctx context.Context, pg *pgx.Conn) (set aside, err error) {
	const constraints = `SELECT format('ALTER TABLE %%s DROP CONSTRAINT %%I', conrelid::regclass, conname),
		format('ALTER TABLE %%s ADD CONSTRAINT %%I %%s', conrelid::regclass, conname, pg_get_constraintdef(oid))
		FROM pg_constraint WHERE contype IN (%s) AND connamespace = current_schema()::regnamespace`
	const indexes = `SELECT format('DROP INDEX %s', i.indexrelid::regclass), pg_get_indexdef(i.indexrelid) FROM pg_index AS i
		JOIN pg_class AS c ON c.oid = i.indexrelid
		WHERE c.relkind = 'i' AND c.relnamespace = current_schema()::regnamespace
		ORDER BY c.relam = (SELECT oid FROM pg_am WHERE amname = 'gin') DESC` // which take longest
	for _, kind := range []struct {
		list string
		made *[]string
	}{
		{fmt.Sprintf(constraints, "'f'"), &set.references},
		{fmt.Sprintf(constraints, "'p', 'u'"), &set.keys},
		{indexes, &set.indexes}, // what is left of them
	} {
		if *kind.made, err = dropped(ctx, pg, kind.list); err != nil {
			return set, err
		}
	}
	set.guards, err = guards(ctx, pg)
	return set, err
}

// guards disables the triggers which see to what Fill sees to itself, and those that keep a table from being emptied: what is
// filled is empty. It returns the statements that enable them again as they were.
func guards(ctx context.Context, pg *pgx.Conn) (enable []string, err error) {
	const list = `SELECT format('ALTER TABLE %s DISABLE TRIGGER %I', tgrelid::regclass, tgname),
		format('ALTER TABLE %s ENABLE %s TRIGGER %I', tgrelid::regclass, CASE tgenabled WHEN 'A' THEN 'ALWAYS' ELSE '' END, tgname)
		FROM pg_trigger AS t JOIN pg_class AS c ON c.oid = t.tgrelid
		WHERE c.relnamespace = current_schema()::regnamespace AND NOT tgisinternal AND tgenabled <> 'D'
		AND (tgname IN ('events_refuse_gap', 'events_wait', 'event_positions_refuse_gap') OR tgname LIKE '%\_refuse\_truncate')`
	return dropped(ctx, pg, list)
}

// dropped runs the first column of a list and returns the second.
func dropped(ctx context.Context, pg *pgx.Conn, list string) (made []string, err error) {
	rows, err := pg.Query(ctx, list)
	if err != nil {
		return nil, fmt.Errorf("list references, keys, indexes and triggers: %w", err)
	}
	var drop []string
	var first, second string
	_, err = pgx.ForEachRow(rows, []any{&first, &second}, func() error {
		drop, made = append(drop, first), append(made, second)
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("list references, keys, indexes and triggers: %w", err)
	}
	return made, executed(ctx, pg, drop...)
}

// back makes again what was dropped, by which every reference is checked, and leaves tables as a busy server would have.
func (set aside) back(ctx context.Context, first, second *pgx.Conn) error {
	const all = "SELECT format('VACUUM (ANALYZE) %s', oid::regclass) FROM pg_class WHERE relkind = 'r' AND relnamespace = current_schema()::regnamespace ORDER BY pg_table_size(oid) DESC"
	// Each key locks its table, so that keys are made together and indexes after them: no two may wait for one another.
	if err := executedTogether(ctx, first, second, set.keys); err != nil {
		return err
	}
	if err := executedTogether(ctx, first, second, set.indexes); err != nil {
		return err
	}
	if err := executed(ctx, first, append(set.references, set.guards...)...); err != nil {
		return err
	}
	rows, err := first.Query(ctx, all)
	if err != nil {
		return fmt.Errorf("list tables: %w", err)
	}
	tables, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return fmt.Errorf("list tables: %w", err)
	}
	return executedTogether(ctx, first, second, tables)
}

// executedTogether runs statements that do not wait for one another, on two connections.
func executedTogether(ctx context.Context, first, second *pgx.Conn, statements []string) error {
	waiting := make(chan string, len(statements))
	for _, s := range statements {
		waiting <- s
	}
	close(waiting)
	group, ctx := errgroup.WithContext(ctx)
	for _, pg := range []*pgx.Conn{first, second} {
		group.Go(func() error {
			if err := executed(ctx, pg, "SET maintenance_work_mem = '512MB'"); err != nil {
				return err
			}
			for s := range waiting {
				if err := executed(ctx, pg, s); err != nil {
					return err
				}
			}
			return executed(ctx, pg, "RESET maintenance_work_mem")
		})
	}
	return group.Wait()
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

package models

import (
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/jackc/pgx/v5"
)

// CSVTable is a CSV file with a header of its columns, to be put into a table of texts.
type CSVTable struct {
	Name    string
	Columns []string
	From    io.Reader // with its header
}

// LoadCSV puts files into tables of texts of their own, on PostgreSQL, for measurements beside COPY.
func (db *DB) LoadCSV(ctx context.Context, tables []CSVTable) error {
	return db.withConnection(ctx, func(pg *pgx.Conn) error {
		for _, t := range tables {
			name := pgx.Identifier{t.Name}.Sanitize()
			columns := make([]string, len(t.Columns))
			for i, c := range t.Columns {
				columns[i] = pgx.Identifier{c}.Sanitize() + " text"
			}
			if err := executed(ctx, pg, "CREATE TABLE "+name+" ("+strings.Join(columns, ", ")+")"); err != nil {
				return err
			}
			if _, err := pg.PgConn().CopyFrom(ctx, t.From, "COPY "+name+" FROM STDIN (FORMAT csv, HEADER)"); err != nil {
				return fmt.Errorf("fill %s: %w", t.Name, err)
			}
			if err := executed(ctx, pg, "VACUUM (ANALYZE) "+name); err != nil {
				return err
			}
		}
		return nil
	})
}

// CopyTables copies all rows of tables out of PostgreSQL as CSV, and throws them away.
func (db *DB) CopyTables(ctx context.Context, names ...string) (out CopiedRows, err error) {
	err = db.withConnection(ctx, func(pg *pgx.Conn) error {
		for _, name := range names {
			one, err := rowsOut(ctx, pg, io.Discard, "COPY "+pgx.Identifier{name}.Sanitize()+" TO STDOUT (FORMAT csv)")
			if err != nil {
				return err
			}
			out.Rows, out.Bytes, out.Took = out.Rows+one.Rows, out.Bytes+one.Bytes, out.Took+one.Took
		}
		return nil
	})
	return out, err
}

package models

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"time"

	"github.com/jackc/pgx/v5"
)

// CopiedRows is what PostgreSQL's COPY of some rows has taken.
type CopiedRows struct {
	Rows, Bytes int64
	Took        time.Duration
}

// CopyReassessed copies, on PostgreSQL, the very columns that a reassessment reads out of the database, and those that it has written
// into it once more, for measurements of what no reassessment can do without.
func (db *DB) CopyReassessed(ctx context.Context) (out, in CopiedRows, err error) {
	err = db.withConnection(ctx, func(pg *pgx.Conn) error {
		if out, err = rowsOut(ctx, pg, io.Discard, "COPY (SELECT specimen_id, submission_id, body FROM grounds) TO STDOUT (FORMAT binary)"); err != nil {
			return err
		}
		var written bytes.Buffer
		if _, err = rowsOut(ctx, pg, &written, "COPY reassessed TO STDOUT (FORMAT binary)"); err != nil {
			return err
		}
		if _, err := pg.Exec(ctx, "CREATE TABLE reassessed_again (LIKE reassessed INCLUDING ALL)"); err != nil {
			return fmt.Errorf("make a table to copy into: %w", err)
		}
		in.Bytes = int64(written.Len())
		began := time.Now()
		tag, err := pg.PgConn().CopyFrom(ctx, &written, "COPY reassessed_again FROM STDIN (FORMAT binary)")
		in.Rows, in.Took = tag.RowsAffected(), time.Since(began)
		if err != nil {
			return fmt.Errorf("copy into a table: %w", err)
		}
		if _, err := pg.Exec(ctx, "DROP TABLE reassessed_again"); err != nil {
			return fmt.Errorf("drop the copy: %w", err)
		}
		return nil
	})
	return out, in, err
}

// counting counts what goes through it.
type counting struct {
	io.Writer
	n int64
}

func (c *counting) Write(data []byte) (int, error) {
	n, err := c.Writer.Write(data)
	c.n += int64(n)
	return n, err
}

func rowsOut(ctx context.Context, pg *pgx.Conn, to io.Writer, statement string) (CopiedRows, error) {
	counted, began := &counting{Writer: to}, time.Now()
	tag, err := pg.PgConn().CopyTo(ctx, counted, statement)
	if err != nil {
		return CopiedRows{}, fmt.Errorf("copy out of a table: %w", err)
	}
	return CopiedRows{Rows: tag.RowsAffected(), Bytes: counted.n, Took: time.Since(began)}, nil
}

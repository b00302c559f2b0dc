package models

import (
	"bufio"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/go-json-experiment/json/jsontext"
	"gorm.io/gorm"
)

// Dump writes all that Rebuild makes, one row a line in canonical JSON (RFC 8785), tables and rows in a fixed order: the same bytes of the
// same rows on either database, so that two of them can be compared by any program. It is of one moment, takes the memory of one row, and
// others go on meanwhile. told hears how many rows of each table were written.
//
// A time is a text with six digits of a second, a truth value 0 or 1, and what is no text is written in base64.
func (db *DB) Dump(ctx context.Context, to io.Writer, told func(table string, rows int)) error {
	out := bufio.NewWriter(to)
	err := db.snapshot(ctx, func(tx *gorm.DB) error {
		for _, t := range rebuilt {
			rows, err := t.dump(tx, out)
			if err != nil {
				return fmt.Errorf("write the rows of %s: %w", t.table, err)
			}
			told(t.table, rows)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return out.Flush()
}

func (t madeTable) dump(tx *gorm.DB, out *bufio.Writer) (n int, err error) {
	from := t.table
	if t.table == "uploads" { // what nobody has put into a specimen yet is in no event
		from += " WHERE specimen_id IS NOT NULL"
	}
	rows, err := tx.Raw(fmt.Sprintf("SELECT %s FROM %s ORDER BY %s", t.columns, from, strings.Join(t.key, ", "))).Rows()
	if err != nil {
		return 0, err
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		return 0, err
	}
	for ; rows.Next(); n++ {
		line, err := t.line(rows, columns)
		if err != nil {
			return n, err
		}
		if _, err := out.Write(append(line, '\n')); err != nil {
			return n, err
		}
	}
	return n, rows.Err()
}

func (t madeTable) line(rows *sql.Rows, columns []string) ([]byte, error) {
	values, places := make([]any, len(columns)), make([]any, len(columns))
	for i := range values {
		places[i] = &values[i]
	}
	if err := rows.Scan(places...); err != nil {
		return nil, err
	}
	row := make(map[string]any, len(columns))
	for i, name := range columns {
		row[name] = dumped(values[i])
	}
	line, err := json.Marshal(map[string]any{"table": t.table, "row": row})
	if err != nil {
		return nil, err
	}
	err = (*jsontext.Value)(&line).Canonicalize()
	return line, err
}

// dumped is a stored value as both databases would have it.
func dumped(stored any) any {
	switch stored := stored.(type) {
	case time.Time:
		return stored.UTC().Format(instantLayout)
	case bool:
		if stored {
			return 1
		}
		return 0
	}
	return stored
}

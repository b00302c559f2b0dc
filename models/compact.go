package models

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"
	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/review"
)

// Compact projections, grounds and extracts, have a row of each specimen and of each of its opened submissions, by the ids of both, with
// what one reader of all of them needs. What is of the time before a projection has an empty body, until it is completed.

// newerOnly puts rows in place of those made from earlier events.
func newerOnly(table string) clause.OnConflict {
	return clause.OnConflict{Columns: []clause.Column{{Name: "specimen_id"}, {Name: "submission_id"}}, UpdateAll: true,
		Where: clause.Where{Exprs: []clause.Expression{clause.Expr{SQL: table + ".seq < excluded.seq"}}}}
}

// completeCompact has some rows of a table made of the time before there were any, and returns of how many specimens. What cannot be read
// keeps a body that nobody can read either.
func completeCompact(tx *gorm.DB, table string, store func(*gorm.DB, review.Specimen, []review.Submission) error) (int, error) {
	var ids []string
	find := tx.Table(table).Where("length(body) = 0").Distinct("specimen_id").Order("specimen_id").Limit(determinationsAtOnce)
	if err := find.Pluck("specimen_id", &ids).Error; err != nil || len(ids) == 0 {
		return 0, err
	}
	found, err := determinationsIn(tx, "", ids)
	if err != nil {
		return 0, err
	}
	for _, id := range ids {
		if spec, read := found.specimens[id]; read {
			if err := store(tx, spec, found.of[id]); err != nil {
				return 0, err
			}
		}
	}
	given := tx.Table(table).Where("specimen_id IN ? AND length(body) = 0", ids).Update("body", []byte{0})
	if given.Error != nil {
		return 0, fmt.Errorf("note what cannot be read: %w", given.Error)
	}
	return len(ids), nil
}

// wholeSpecimens returns a page of about so many rows that ends with all rows of its last specimen, and that specimen, after which the
// next page begins; empty at the end.
func wholeSpecimens[Row any](size int, read func(size int) ([]Row, error), specimen func(*Row) string) (found []Row, next string, err error) {
	for ; ; size *= 2 {
		found, err = read(size)
		if err != nil || len(found) < size {
			return found, "", err
		}
		last := len(found) - 1 // of the last specimen there may be more
		for last > 0 && specimen(&found[last-1]) == specimen(&found[last]) {
			last--
		}
		if last > 0 {
			return found[:last], specimen(&found[last-1]), nil
		}
	}
}

// alongTheKeys reads as the driver of PostgreSQL itself does, without a detour, since there are millions of rows. PostgreSQL is told to
// go along the keys: where it knows nothing of the tables yet it would sort all of them for each page.
func (db *DB) alongTheKeys(ctx context.Context, read func(pgx.Tx) error) error {
	const alongTheKeys = "SELECT set_config('enable_seqscan', 'off', true), set_config('enable_bitmapscan', 'off', true), set_config('enable_sort', 'off', true), " +
		"set_config('enable_hashjoin', 'off', true), set_config('enable_mergejoin', 'off', true)"
	err := db.withConnection(ctx, func(pg *pgx.Conn) error {
		tx, err := pg.BeginTx(ctx, pgx.TxOptions{AccessMode: pgx.ReadOnly})
		if err != nil {
			return fmt.Errorf("begin to read: %w", err)
		}
		defer tx.Rollback(context.WithoutCancel(ctx)) // nothing was changed
		if _, err := tx.Exec(ctx, alongTheKeys); err != nil {
			return fmt.Errorf("ask for the order of the keys: %w", err)
		}
		return read(tx)
	})
	return faultOf(err, nothingStored)
}

// pageMemory keeps what the driver uses again, of a page of rows, in few pieces of memory.
type pageMemory struct {
	last  string
	bytes []byte
}

// bytesAtOnce is how many are asked for together.
const bytesAtOnce = 1 << 18

// id is a text that comes several times in a row.
func (m *pageMemory) id(text []byte) string {
	if m.last != string(text) {
		m.last = string(text)
	}
	return m.last
}

func (m *pageMemory) keep(some []byte) []byte {
	if cap(m.bytes)-len(m.bytes) < len(some) {
		m.bytes = make([]byte, 0, max(bytesAtOnce, len(some)))
	}
	begin := len(m.bytes)
	m.bytes = append(m.bytes, some...)
	return m.bytes[begin:len(m.bytes):len(m.bytes)]
}

package models

import (
	"context"
	"database/sql"
	"fmt"

	"github.com/jackc/pgx/v5"
	"gorm.io/gorm"

	"revidit/migrations"
	"revidit/review"
	"revidit/review/service"
)

// extractRow is a row of extracts.
type extractRow struct {
	SpecimenID   string `gorm:"primaryKey"`
	SubmissionID string `gorm:"primaryKey"`
	Withheld     string
	Seq          int
	Body         []byte
}

func (extractRow) TableName() string { return "extracts" }

// extractsOf are those of everything that a batch leaves.
func extractsOf(specimens []review.Specimen, submissions []review.Submission) []extractRow {
	var rows []extractRow
	for i := range specimens {
		rows = append(rows, toExtractRow(review.ExtractOfSpecimen(&specimens[i])))
	}
	for i := range submissions {
		if e, opened := review.ExtractOfSubmission(&submissions[i]); opened {
			rows = append(rows, toExtractRow(e))
		}
	}
	return rows
}

func toExtractRow(e review.Extract) extractRow {
	return extractRow{SpecimenID: e.Specimen, SubmissionID: e.Submission, Withheld: e.Withheld, Seq: e.Seq, Body: e.Body}
}

// storeExtracts puts rows in place of those made from earlier events.
func storeExtracts(tx *gorm.DB, rows []extractRow) error {
	return insert(tx.Clauses(newerOnly("extracts")), "what leaves the house", rows)
}

// CompleteExtracts implements service.Store.
func (db *DB) CompleteExtracts(ctx context.Context) (made int, err error) {
	err = db.write(ctx, func(tx *gorm.DB) error {
		made, err = completeExtracts(tx)
		return err
	})
	return made, err
}

func completeExtracts(tx *gorm.DB) (int, error) {
	return completeCompact(tx, "extracts", func(tx *gorm.DB, spec review.Specimen, of []review.Submission) error {
		return storeExtracts(tx, extractsOf([]review.Specimen{spec}, of))
	})
}

// CountExtracts implements service.Reader.
func (db *DB) CountExtracts(ctx context.Context) (n int, err error) {
	if err = db.read(ctx).Raw("SELECT count(*) FROM extracts WHERE submission_id = ''").Scan(&n).Error; err != nil {
		return 0, fmt.Errorf("count what leaves the house: %w", err)
	}
	return n, nil
}

// Label data are read with their specimens: both are in the order of their ids, which is that of time.
const (
	extractsAfter = "SELECT e.specimen_id, e.submission_id, e.withheld, e.body, w.salt, w.body FROM extracts AS e " +
		"LEFT JOIN withheld AS w ON w.id = e.withheld WHERE e.specimen_id > "
	extractsInOrder = " ORDER BY e.specimen_id, e.submission_id LIMIT "
)

// FindExtracts implements service.Reader.
func (db *DB) FindExtracts(ctx context.Context, after string, size int) ([]service.Extracted, string, error) {
	if !storable(after) {
		return nil, "", nil
	}
	read := func(size int) ([]service.Extracted, error) { return db.extractsIn(ctx, after, size) }
	return wholeSpecimens(size, read, func(row *service.Extracted) string { return row.Specimen })
}

// extractsIn reads rows without a detour, since there are millions.
func (db *DB) extractsIn(ctx context.Context, after string, size int) (found []service.Extracted, err error) {
	if db.dialect == migrations.Postgres {
		err = db.alongTheKeys(ctx, func(tx pgx.Tx) error {
			found, err = extractsFrom(ctx, tx, after, size)
			return err
		})
		return found, err
	}
	rows, err := db.read(ctx).Raw(extractsAfter+"?"+extractsInOrder+"?", after, size).Rows()
	if err != nil {
		return nil, fmt.Errorf("read what leaves the house: %w", err)
	}
	defer rows.Close()
	found = make([]service.Extracted, 0, size)
	for rows.Next() {
		var e service.Extracted
		var body sql.NullString
		if err := rows.Scan(&e.Specimen, &e.Submission, &e.Withheld, &e.Body, &e.Salt, &body); err != nil {
			return nil, fmt.Errorf("read what leaves the house: %w", err)
		}
		e.Sealed = body.String
		found = append(found, e)
	}
	return found, rows.Err()
}

// extractsFrom reads them as the driver of PostgreSQL gets them.
func extractsFrom(ctx context.Context, tx pgx.Tx, after string, size int) ([]service.Extracted, error) {
	formats := pgx.QueryResultFormats{pgx.TextFormatCode, pgx.TextFormatCode, pgx.TextFormatCode, pgx.BinaryFormatCode, pgx.BinaryFormatCode, pgx.TextFormatCode}
	rows, err := tx.Query(ctx, extractsAfter+"$1"+extractsInOrder+"$2", formats, after, size)
	if err != nil {
		return nil, fmt.Errorf("read what leaves the house: %w", err)
	}
	defer rows.Close()
	found, page := make([]service.Extracted, 0, size), pageMemory{}
	for rows.Next() {
		columns := rows.RawValues()
		e := service.Extracted{Salt: page.keep(columns[4]), Sealed: string(columns[5])}
		e.Specimen, e.Submission, e.Withheld, e.Body = page.id(columns[0]), string(columns[1]), string(columns[2]), page.keep(columns[3])
		found = append(found, e)
	}
	return found, rows.Err()
}

package models

import (
	"context"
	"database/sql"
	"fmt"

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

// listExtracts reads label data with their specimens: both are in the order of their ids, which is that of time.
const listExtracts = "SELECT e.specimen_id, e.submission_id, e.withheld, e.body, w.salt, w.body FROM extracts AS e " +
	"LEFT JOIN withheld AS w ON w.id = e.withheld WHERE e.specimen_id > ? ORDER BY e.specimen_id, e.submission_id LIMIT ?"

// FindExtracts implements service.Reader.
func (db *DB) FindExtracts(ctx context.Context, after string, size int) ([]service.Extracted, string, error) {
	if !storable(after) {
		return nil, "", nil
	}
	read := func(size int) ([]service.Extracted, error) { return db.extractsIn(ctx, after, size) }
	return wholeSpecimens(size, read, func(row *service.Extracted) string { return row.Specimen })
}

// extractsIn reads rows without a detour, since there are millions. PostgreSQL is told to go along the keys: where it knows nothing of
// the tables yet it would sort all of them for each page.
func (db *DB) extractsIn(ctx context.Context, after string, size int) (found []service.Extracted, err error) {
	if db.dialect != migrations.Postgres {
		return extractsOn(db.read(ctx), after, size)
	}
	err = db.read(ctx).Transaction(func(tx *gorm.DB) error {
		if err := tx.Exec("SELECT set_config('enable_seqscan', 'off', true), set_config('enable_bitmapscan', 'off', true), set_config('enable_sort', 'off', true), " +
			"set_config('enable_hashjoin', 'off', true), set_config('enable_mergejoin', 'off', true)").Error; err != nil {
			return fmt.Errorf("ask for the order of the keys: %w", err)
		}
		found, err = extractsOn(tx, after, size)
		return err
	})
	return found, err
}

func extractsOn(tx *gorm.DB, after string, size int) ([]service.Extracted, error) {
	rows, err := tx.Raw(listExtracts, after, size).Rows()
	if err != nil {
		return nil, fmt.Errorf("read what leaves the house: %w", err)
	}
	defer rows.Close()
	found := make([]service.Extracted, 0, size)
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

package models

import (
	"context"
	"fmt"
	"slices"

	"github.com/jackc/pgx/v5"
	"gorm.io/gorm"

	"revidit/migrations"
	"revidit/review"
)

// groundsRow is a row of grounds.
type groundsRow struct {
	SpecimenID   string `gorm:"primaryKey"`
	SubmissionID string `gorm:"primaryKey"`
	Seq          int
	Body         []byte
}

func (groundsRow) TableName() string { return "grounds" }

// groundsOf are those of everything that a batch leaves.
func groundsOf(specimens []review.Specimen, submissions []review.Submission) []groundsRow {
	var rows []groundsRow
	for i := range specimens {
		rows = append(rows, toGroundsRow(review.GroundsOfSpecimen(&specimens[i])))
	}
	for i := range submissions {
		if g, opened := review.GroundsOfSubmission(&submissions[i]); opened {
			rows = append(rows, toGroundsRow(g))
		}
	}
	return rows
}

func toGroundsRow(g review.Grounds) groundsRow {
	return groundsRow{SpecimenID: g.Specimen, SubmissionID: g.Submission, Seq: g.Seq, Body: g.Body}
}

// storeGrounds puts rows in place of those made from earlier events.
func storeGrounds(tx *gorm.DB, rows []groundsRow) error {
	return insert(tx.Clauses(newerOnly("grounds")), "what determinations rest on", rows)
}

// CompleteGrounds implements service.Store.
func (db *DB) CompleteGrounds(ctx context.Context) (made int, err error) {
	err = db.write(ctx, func(tx *gorm.DB) error {
		made, err = completeGrounds(tx)
		return err
	})
	return made, err
}

func completeGrounds(tx *gorm.DB) (int, error) {
	return completeCompact(tx, "grounds", func(tx *gorm.DB, spec review.Specimen, of []review.Submission) error {
		return storeGrounds(tx, groundsOf([]review.Specimen{spec}, of))
	})
}

// FindGrounds implements service.Reader.
func (db *DB) FindGrounds(ctx context.Context, after string, size int) ([]review.Grounds, string, error) {
	if !storable(after) {
		return nil, "", nil
	}
	read := func(size int) ([]review.Grounds, error) { return db.groundsAfter(ctx, after, size) }
	return wholeSpecimens(size, read, func(row *review.Grounds) string { return row.Specimen })
}

// groundsAfter reads rows without a detour, since there are millions.
func (db *DB) groundsAfter(ctx context.Context, after string, size int) (found []review.Grounds, err error) {
	if db.dialect == migrations.Postgres {
		err = db.alongTheKeys(ctx, func(tx pgx.Tx) error {
			found, err = groundsFrom(ctx, tx, after, size)
			return err
		})
		return found, err
	}
	const list = "SELECT specimen_id, submission_id, body FROM grounds WHERE specimen_id > ? ORDER BY specimen_id, submission_id LIMIT ?"
	rows, err := db.read(ctx).Raw(list, after, size).Rows()
	if err != nil {
		return nil, fmt.Errorf("read what determinations rest on: %w", err)
	}
	defer rows.Close()
	found = make([]review.Grounds, 0, size)
	for rows.Next() {
		var g review.Grounds
		if err := rows.Scan(&g.Specimen, &g.Submission, &g.Body); err != nil {
			return nil, fmt.Errorf("read what a determination rests on: %w", err)
		}
		found = append(found, g)
	}
	return found, rows.Err()
}

// groundsFrom reads them as the driver of PostgreSQL gets them.
func groundsFrom(ctx context.Context, tx pgx.Tx, after string, size int) ([]review.Grounds, error) {
	const list = "SELECT specimen_id, submission_id, body FROM grounds WHERE specimen_id > $1 ORDER BY specimen_id, submission_id LIMIT $2"
	formats := pgx.QueryResultFormats{pgx.TextFormatCode, pgx.TextFormatCode, pgx.BinaryFormatCode}
	rows, err := tx.Query(ctx, list, formats, after, size)
	if err != nil {
		return nil, fmt.Errorf("read what determinations rest on: %w", err)
	}
	defer rows.Close()
	found, page := make([]review.Grounds, 0, size), pageMemory{}
	for rows.Next() {
		columns := rows.RawValues()
		found = append(found, review.Grounds{Specimen: page.id(columns[0]), Submission: string(columns[1]), Body: page.keep(columns[2])})
	}
	return found, rows.Err()
}

// CountGrounds implements service.Reader.
func (db *DB) CountGrounds(ctx context.Context) (n int, err error) {
	if err = db.read(ctx).Raw("SELECT count(*) FROM grounds").Scan(&n).Error; err != nil {
		return 0, fmt.Errorf("count what determinations rest on: %w", err)
	}
	return n, nil
}

// touchedRow is a row of reassessed.
type touchedRow struct {
	Change       string `gorm:"primaryKey"`
	Effect       string `gorm:"primaryKey"`
	Cause        string `gorm:"primaryKey"`
	SubmissionID string `gorm:"primaryKey"`
	PBefore      float64
	PAfter       float64
	Detail       string
	Opened       bool
}

func (touchedRow) TableName() string { return "reassessed" }

// touchedAtOnce rows go into one statement.
const touchedAtOnce = 500

// storeTouched adds what a slice of a walk has found, or notes of which a review was opened.
func storeTouched(tx *gorm.DB, found *review.TouchedBatch) error {
	if found == nil {
		return nil
	}
	if found.Anew {
		if err := tx.Where("change = ?", found.Change).Delete(&touchedRow{}).Error; err != nil {
			return fmt.Errorf("remove what was found before: %w", err)
		}
	}
	for rows := range slices.Chunk(found.Rows, touchedAtOnce) {
		if err := addTouched(tx, found.Change, rows); err != nil {
			return fmt.Errorf("store which determinations a change would touch: %w", err)
		}
	}
	if len(found.Opened) > 0 {
		opened := tx.Model(&touchedRow{}).Where("change = ? AND submission_id IN ?", found.Change, found.Opened).Update("opened", true)
		if opened.Error != nil {
			return fmt.Errorf("note of which a review was opened: %w", opened.Error)
		}
	}
	return nil
}

// addTouched adds rows: on PostgreSQL as columns, since as values of one statement they would be read one by one.
func addTouched(tx *gorm.DB, change string, found []review.Touched) error {
	if tx.Name() == migrations.Postgres {
		return addTouchedColumns(tx, change, found)
	}
	rows := make([]touchedRow, 0, len(found))
	for _, t := range found {
		rows = append(rows, touchedRow{Change: change, Effect: string(t.Effect), Cause: t.Cause, SubmissionID: t.Submission, PBefore: t.Before, PAfter: t.After, Detail: t.Detail})
	}
	return tx.Create(rows).Error
}

func addTouchedColumns(tx *gorm.DB, change string, found []review.Touched) error {
	const add = `INSERT INTO reassessed (change, effect, cause, submission_id, p_before, p_after, detail, opened)
		SELECT $1, effect, cause, submission, p_before, p_after, detail, false
		FROM unnest($2::text[], $3::text[], $4::text[], $5::float8[], $6::float8[], $7::text[]) AS t (effect, cause, submission, p_before, p_after, detail)`
	var effect, cause, submission, detail []string
	var before, after []float64
	for _, t := range found {
		effect, cause, submission, detail = append(effect, string(t.Effect)), append(cause, t.Cause), append(submission, t.Submission), append(detail, t.Detail)
		before, after = append(before, t.Before), append(after, t.After)
	}
	_, err := sqlTx(tx).ExecContext(tx.Statement.Context, add, change, effect, cause, submission, before, after, detail)
	return err
}

// FindTouched implements service.Reader.
func (db *DB) FindTouched(ctx context.Context, change string, effect review.Touch, cause, after string, size int) ([]review.Touched, error) {
	if !storable(change) || !storable(cause) || !storable(after) || !storable(string(effect)) {
		return nil, nil
	}
	var rows []touchedRow
	err := db.read(ctx).Where("change = ? AND effect = ? AND cause = ? AND submission_id > ?", change, effect, cause, after).
		Order("submission_id").Limit(size).Find(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("list which determinations a change would touch: %w", err)
	}
	found := make([]review.Touched, 0, len(rows))
	for _, r := range rows {
		found = append(found, review.Touched{Submission: r.SubmissionID, Effect: review.Touch(r.Effect), Cause: r.Cause, Before: r.PBefore, After: r.PAfter, Detail: r.Detail, Opened: r.Opened})
	}
	return found, nil
}

// CountTouchedOpened implements service.Reader.
func (db *DB) CountTouchedOpened(ctx context.Context, change string) (map[review.TouchGroup]int, error) {
	counts := map[review.TouchGroup]int{}
	if !storable(change) {
		return counts, nil
	}
	var rows []struct {
		Effect, Cause string
		N             int
	}
	err := db.read(ctx).Model(&touchedRow{}).Select("effect, cause, count(*) AS n").Where("change = ? AND opened", change).Group("effect, cause").Scan(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("count the reviews that were opened: %w", err)
	}
	for _, r := range rows {
		counts[review.TouchGroup{Effect: review.Touch(r.Effect), Cause: r.Cause}] = r.N
	}
	return counts, nil
}

// FindFound implements service.Reader.
func (db *DB) FindFound(ctx context.Context, kind review.FoundKind, group string, most int) ([]review.Found, error) {
	if !storable(group) {
		return nil, nil
	}
	var rows []foundRow
	if err := db.read(ctx).Where("kind = ? AND group_id = ?", kind, group).Order("touched_at DESC, key").Limit(most).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("list %s of %s: %w", kind, group, err)
	}
	var found []review.Found
	for _, r := range rows {
		found = append(found, r.fromRow())
	}
	return found, nil
}

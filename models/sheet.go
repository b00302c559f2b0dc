package models

import (
	"context"
	"encoding/json"
	"fmt"

	"gorm.io/gorm"

	"revidit/review"
)

// sheetRow is a row of sheets.
type sheetRow struct {
	ID        string `gorm:"primaryKey"`
	Seq       int
	PrintedBy string
	PrintedAt instant
	Body      string
}

func (sheetRow) TableName() string { return "sheets" }

func toSheetRow(s review.Sheet) (sheetRow, error) {
	body, err := json.Marshal(s)
	if err != nil {
		return sheetRow{}, fmt.Errorf("encode sheet %s: %w", s.ID, err)
	}
	return sheetRow{ID: s.ID, Seq: 1, PrintedBy: s.By, PrintedAt: instantOf(s.At), Body: string(body)}, nil
}

func (r sheetRow) fromRow() (s review.Sheet, err error) {
	err = json.Unmarshal([]byte(r.Body), &s)
	if err == nil && s.ID != r.ID {
		err = fmt.Errorf("it is that of %q", s.ID)
	}
	if err != nil {
		return review.Sheet{}, unreadable("sheet", r.ID, err)
	}
	return s, nil
}

// printedRow is a row of printed_labels.
type printedRow struct {
	SpecimenID    string              `gorm:"primaryKey"`
	Kind          review.PinLabelKind `gorm:"primaryKey"`
	SubmissionID  string              `gorm:"primaryKey"`
	Person        string              `gorm:"primaryKey"`
	Nth           int                 `gorm:"primaryKey;autoIncrement:false"`
	SheetID       string
	Place         review.PlaceShown
	SpecimenSeq   int
	SubmissionSeq int
}

func (printedRow) TableName() string { return "printed_labels" }

func toPrintedRows(s review.Sheet) (rows []printedRow) {
	for _, l := range s.Labels {
		rows = append(rows, printedRow{SpecimenID: l.Specimen, Kind: l.Kind, SubmissionID: l.Submission, Person: l.Person, Nth: l.Nth,
			SheetID: s.ID, Place: l.Place, SpecimenSeq: l.SpecimenSeq, SubmissionSeq: l.SubmissionSeq})
	}
	return rows
}

// printedAtOnce keeps a statement within what a database takes of values.
const printedAtOnce = 200

func storeSheets(tx *gorm.DB, sheets []review.Sheet) error {
	for _, s := range sheets {
		row, err := toSheetRow(s)
		if err != nil {
			return err
		}
		if err := insert(tx, "a sheet of labels", []sheetRow{row}); err != nil {
			return err
		}
		rows := toPrintedRows(s)
		for at := 0; at < len(rows); at += printedAtOnce {
			if err := insert(tx, "printed labels", rows[at:min(at+printedAtOnce, len(rows))]); err != nil {
				return err
			}
		}
	}
	return nil
}

// Sheet implements service.Reader.
func (db *DB) Sheet(ctx context.Context, id string) (review.Sheet, error) {
	row, err := find[sheetRow](byID(db.read(ctx), "id", id), "There is no sheet %s.", id)
	if err != nil {
		return review.Sheet{}, err
	}
	return row.fromRow()
}

// FindSheets implements service.Reader.
func (db *DB) FindSheets(ctx context.Context, person string, most int) ([]review.Sheet, error) {
	query := db.read(ctx).Order("printed_at DESC, id DESC").Limit(most)
	if person != "" {
		query = byID(query, "printed_by", person)
	}
	var rows []sheetRow
	if err := query.Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("list sheets of labels: %w", err)
	}
	return fromRows(rows, sheetRow.fromRow)
}

// SheetsOf implements service.Reader.
func (db *DB) SheetsOf(ctx context.Context, specimen string) ([]string, error) {
	var ids []string
	err := byID(db.read(ctx).Model(&printedRow{}), "specimen_id", specimen).Distinct().Order("sheet_id").Pluck("sheet_id", &ids).Error
	if err != nil {
		return nil, fmt.Errorf("list the sheets of a specimen: %w", err)
	}
	return ids, nil
}

// Printed implements service.Reader.
func (db *DB) Printed(ctx context.Context, specimens []string) (map[review.PinLabel]review.Printed, error) {
	printed := map[review.PinLabel]review.Printed{}
	if specimens = storableIDs(specimens); len(specimens) == 0 {
		return printed, nil
	}
	var rows []struct {
		Label     printedRow `gorm:"embedded"`
		PrintedBy string
		PrintedAt instant
	}
	err := db.read(ctx).Table("printed_labels AS l").Select("l.*, s.printed_by, s.printed_at").Joins("JOIN sheets AS s ON s.id = l.sheet_id").
		Where("l.specimen_id IN ?", specimens).Order("l.nth").Scan(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("look for printed labels: %w", err)
	}
	for _, r := range rows {
		l := r.Label
		of := review.PinLabel{Specimen: l.SpecimenID, Kind: l.Kind, Submission: l.SubmissionID, Person: l.Person}
		printed[of] = review.Printed{PinLabel: of, Times: l.Nth, Sheet: l.SheetID, By: r.PrintedBy, At: r.PrintedAt.Time, Place: l.Place,
			SpecimenSeq: l.SpecimenSeq, SubmissionSeq: l.SubmissionSeq}
	}
	return printed, nil
}

func rebuildSheets(tx *gorm.DB, streams [][]review.Event) error {
	sheets, err := toRows(streams, review.ReplaySheet)
	if err != nil {
		return err
	}
	return storeSheets(tx, sheets)
}

package models

import (
	"context"
	"encoding/json"
	"fmt"

	"revidit/review"
)

// specimenRow is a row of specimens.
type specimenRow struct {
	ID              string `gorm:"primaryKey"`
	Seq             int
	Owner           string
	CatalogueNumber string
	Trip            string
	StoragePlace    string
	Search          string
	Body            string
}

func (specimenRow) TableName() string { return "specimens" }

func toSpecimenRow(s review.Specimen) (specimenRow, error) {
	body, err := json.Marshal(s)
	if err != nil {
		return specimenRow{}, fmt.Errorf("encode specimen %s: %w", s.ID, err)
	}
	return specimenRow{ID: s.ID, Seq: s.Seq, Owner: s.Owner, CatalogueNumber: s.Label.CatalogueNumber, Trip: s.Label.Trip,
		StoragePlace: s.Label.StoragePlace, Search: searchable(s.Label.CatalogueNumber), Body: string(body)}, nil
}

func (r specimenRow) fromRow() (s review.Specimen, err error) {
	if err := json.Unmarshal([]byte(r.Body), &s); err != nil {
		return review.Specimen{}, fmt.Errorf("decode specimen %s: %w", r.ID, err)
	}
	return s, nil
}

// Specimen implements review.Reader.
func (db *DB) Specimen(ctx context.Context, id string) (review.Specimen, error) {
	row, err := find[specimenRow](byID(db.read(ctx), "id", id), "There is no specimen %s.", id)
	if err != nil {
		return review.Specimen{}, err
	}
	return row.fromRow()
}

package models

import (
	"context"
	"fmt"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/review"
)

// openingRow is a row of openings: what a person who reviews has been shown of a specimen.
type openingRow struct {
	SpecimenID string `gorm:"primaryKey"`
	Person     string `gorm:"primaryKey"`
	Seq        int
	Verdicts   bool
}

func (openingRow) TableName() string { return "openings" }

func toOpeningRow(o review.Opening) openingRow {
	return openingRow{SpecimenID: o.Specimen, Person: o.Person, Seq: o.Seq, Verdicts: o.Verdicts}
}

func storeOpenings(tx *gorm.DB, rows []openingRow) error {
	same := clause.OnConflict{Columns: []clause.Column{{Name: "specimen_id"}, {Name: "person"}}, UpdateAll: true}
	return insert(tx.Clauses(same), "who has opened", rows)
}

// Openings implements service.Reader.
func (db *DB) Openings(ctx context.Context, specimen string) ([]review.Event, error) {
	if !storable(specimen) {
		return nil, nil
	}
	// What begins with the name of all streams lies between it and the same with the next character in place of the last one.
	first := review.OpeningStream(specimen, "")
	last := first[:len(first)-1] + string(first[len(first)-1]+1)
	var rows []eventRow
	if err := db.read(ctx).Where("stream > ? AND stream < ?", first, last).Order("stream, seq").Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read who has opened a specimen: %w", err)
	}
	return fromRows(rows, eventRow.fromRow)
}

// OpenedBy implements service.Reader.
func (db *DB) OpenedBy(ctx context.Context, person string, specimens []string) (map[string]bool, error) {
	opened := map[string]bool{}
	if specimens = storableIDs(specimens); len(specimens) == 0 || !storable(person) {
		return opened, nil
	}
	var found []string
	err := db.read(ctx).Model(&openingRow{}).Where("person = ? AND specimen_id IN ?", person, specimens).Pluck("specimen_id", &found).Error
	if err != nil {
		return nil, fmt.Errorf("look for what a person has opened: %w", err)
	}
	for _, specimen := range found {
		opened[specimen] = true
	}
	return opened, nil
}

// openingStreams is what the streams of all openings begin with.
const openingStreams = "opening/"

// rebuildOpenings makes the rows of some streams again.
func rebuildOpenings(tx *gorm.DB, streams [][]review.Event) error {
	var rows []openingRow
	for _, events := range streams {
		opening, err := review.ReplayOpening(events)
		if err != nil {
			return err
		}
		rows = append(rows, toOpeningRow(opening))
	}
	return insert(tx, "who has opened", rows)
}

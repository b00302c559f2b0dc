package models

import (
	"context"
	"fmt"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/migrations"
	"revidit/review"
	"revidit/review/service"
)

// heldBy narrows submissions to those that a person holds at a time; the first condition is that of the index.
func heldBy(query *gorm.DB, person string, at time.Time) *gorm.DB {
	return byID(query.Where("s.hold_by <> ''"), "s.hold_by", person).
		Where("s.hold_until > ? AND s.status = ?", instantOf(at), string(review.StatusOpen))
}

// Holdings implements service.Reader.
func (db *DB) Holdings(ctx context.Context, person string, at time.Time) ([]review.Holding, error) {
	var rows []struct {
		ID, CatalogueNumber string
		HoldUntil           instant
	}
	query := db.read(ctx).Table("submissions AS s").Select("s.id, sp.catalogue_number, s.hold_until").
		Joins("JOIN specimens AS sp ON sp.id = s.specimen_id")
	if err := heldBy(query, person, at).Order("s.hold_until, s.id").Scan(&rows).Error; err != nil {
		return nil, fmt.Errorf("list what somebody holds: %w", err)
	}
	holdings := []review.Holding{}
	for _, r := range rows {
		holdings = append(holdings, review.Holding{Submission: r.ID, CatalogueNumber: r.CatalogueNumber, Until: r.HoldUntil.Time})
	}
	return holdings, nil
}

// LeftHolds implements service.Reader.
func (db *DB) LeftHolds(ctx context.Context, before time.Time, most int) ([]service.LeftHold, error) {
	var rows []submissionRow
	err := db.read(ctx).Select("id", "hold_by", "hold_until").Where("hold_by <> '' AND status = 'open' AND hold_until < ?", instantOf(before)).
		Order("hold_until, id").Limit(most).Find(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("list holds that were left: %w", err)
	}
	left := []service.LeftHold{}
	for _, r := range rows {
		left = append(left, service.LeftHold{Person: r.HoldBy, Submission: r.ID, Until: r.HoldUntil.Time})
	}
	return left, nil
}

// assertHolds is a lost race where a person holds more than an act has allowed for: others of the same person were
// stored since. Acts of one person that hold something take turns from here on.
func (db *DB) assertHolds(tx *gorm.DB, rests *review.Rests) error {
	if rests == nil || rests.Holds == nil {
		return nil
	}
	bound := rests.Holds
	if db.dialect == migrations.Postgres { // SQLite has one writer anyway
		lock := byID(tx.Clauses(clause.Locking{Strength: "NO KEY UPDATE"}), "id", bound.Person)
		if err := lock.Find(&[]personRow{}).Error; err != nil {
			return fmt.Errorf("let one person's holds take turns: %w", err)
		}
	}
	var held int64
	if err := heldBy(tx.Table("submissions AS s"), bound.Person, bound.At).Count(&held).Error; err != nil {
		return fmt.Errorf("count what somebody holds: %w", err)
	}
	if held > int64(bound.Most) {
		return service.ErrRace
	}
	return nil
}

package models

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"revidit/review"
)

// visitRow is a row of visits.
type visitRow struct {
	Person     string `gorm:"primaryKey"`
	Step       int
	FinishedAt *instant
}

func (visitRow) TableName() string { return "visits" }

// Visit implements service.Reader.
func (db *DB) Visit(ctx context.Context, person string) (review.Visit, error) {
	row, err := find[visitRow](byID(db.read(ctx), "person", person), "%s has not begun a first visit.", person)
	if review.KindOf(err) == review.KindNotFound {
		return review.Visit{Person: person}, nil
	}
	if err != nil {
		return review.Visit{}, err
	}
	return review.Visit{Person: row.Person, Step: row.Step, FinishedAt: timeOrNil(row.FinishedAt)}, nil
}

// StoreVisit implements service.Store. What was finished stays finished.
func (db *DB) StoreVisit(ctx context.Context, v review.Visit) error {
	return db.write(ctx, func(tx *gorm.DB) error {
		err := tx.Exec(`INSERT INTO visits (person, step, finished_at) VALUES (?, ?, ?)
			ON CONFLICT (person) DO UPDATE SET step = excluded.step, finished_at = coalesce(visits.finished_at, excluded.finished_at)`,
			v.Person, v.Step, instantOrNull(v.FinishedAt)).Error
		if err != nil {
			return fmt.Errorf("store a first visit: %w", err)
		}
		return nil
	})
}

// HasActed implements service.Reader.
func (db *DB) HasActed(ctx context.Context, person string) (bool, error) {
	for _, part := range []struct {
		table         any
		column, order string // an order that its index has: else PostgreSQL reads all rows for the first of somebody who has none
	}{{&draftRow{}, "owner", ""}, {&submissionRow{}, "owner", ""}, {&judgedRow{}, "person", "submission_id"}, {&proposalRow{}, "proposer", "id"}} {
		var found []string
		if err := byID(db.read(ctx).Model(part.table), part.column, person).Order(part.order).Limit(1).Pluck(part.column, &found).Error; err != nil {
			return false, fmt.Errorf("look what somebody has done: %w", err)
		}
		if len(found) > 0 {
			return true, nil
		}
	}
	return false, nil
}

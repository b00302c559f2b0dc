package models

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"revidit/review"
)

// savedSearchRow is a row of saved_searches.
type savedSearchRow struct {
	ID     string `gorm:"primaryKey"`
	Person string
	Name   string
	Query  string
	At     instant
}

func (savedSearchRow) TableName() string { return "saved_searches" }

func (r savedSearchRow) fromRow() review.SavedSearch {
	return review.SavedSearch{ID: r.ID, Person: r.Person, Name: r.Name, Query: r.Query, At: r.At.Time}
}

// SavedSearches implements service.Reader.
func (db *DB) SavedSearches(ctx context.Context, person string) ([]review.SavedSearch, error) {
	var rows []savedSearchRow
	if err := byID(db.read(ctx), "person", person).Order("at, id").Limit(review.MostSavedSearches).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("list saved searches: %w", err)
	}
	found := make([]review.SavedSearch, 0, len(rows))
	for _, r := range rows {
		found = append(found, r.fromRow())
	}
	return found, nil
}

// SaveSearch implements service.Store.
func (db *DB) SaveSearch(ctx context.Context, s review.SavedSearch) (review.SavedSearch, error) {
	row := savedSearchRow{ID: s.ID, Person: s.Person, Name: s.Name, Query: s.Query, At: instantOf(s.At)}
	err := db.write(ctx, func(tx *gorm.DB) error {
		// One after the other for a person, so that two at once do not slip past the bound.
		if err := byID(tx.Model(&personRow{}), "id", s.Person).Update("id", s.Person).Error; err != nil {
			return fmt.Errorf("take turns for a saved search: %w", err)
		}
		var same []savedSearchRow
		if err := tx.Where("person = ? AND name = ? AND query = ?", s.Person, s.Name, s.Query).Limit(1).Find(&same).Error; err != nil {
			return fmt.Errorf("look for a saved search: %w", err)
		}
		if len(same) > 0 {
			row = same[0]
			return nil
		}
		var n int64
		if err := tx.Model(&savedSearchRow{}).Where("person = ?", s.Person).Count(&n).Error; err != nil {
			return fmt.Errorf("count saved searches: %w", err)
		}
		if n >= review.MostSavedSearches {
			return review.Errorf(review.KindConflict, "You have saved %d searches, which is as many as are kept. Nothing was saved: remove one first.", review.MostSavedSearches)
		}
		return insert(tx, "a search", []savedSearchRow{row})
	})
	return row.fromRow(), err
}

// RemoveSearch implements service.Store.
func (db *DB) RemoveSearch(ctx context.Context, person, id string) error {
	return db.write(ctx, func(tx *gorm.DB) error {
		result := byID(byID(tx, "person", person), "id", id).Delete(&savedSearchRow{})
		if result.Error != nil {
			return fmt.Errorf("remove a saved search: %w", result.Error)
		}
		if result.RowsAffected == 0 {
			return review.Errorf(review.KindNotFound, "You have no such saved search; it may have been removed already.")
		}
		return nil
	})
}

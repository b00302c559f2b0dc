package models

import (
	"context"
	"fmt"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/review"
	"revidit/review/photo"
)

// lookRow is a row of photo_looks: what the photo of an original looks like.
type lookRow struct {
	SHA256 string `gorm:"column:sha256;primaryKey"`
	Look   string
	PartA  int64
	PartB  int64
	PartC  int64
	PartD  int64
}

func (lookRow) TableName() string { return "photo_looks" }

// toLookRow is nil of a photo without a look.
func toLookRow(u review.Upload) *lookRow {
	if u.Look == "" {
		return nil
	}
	parts := photo.Likeness(u.Look).Parts()
	return &lookRow{u.SHA256, u.Look, parts[0], parts[1], parts[2], parts[3]}
}

func storeLook(tx *gorm.DB, row *lookRow) error {
	if row == nil {
		return nil
	}
	if err := tx.Clauses(clause.OnConflict{DoNothing: true}).Create(row).Error; err != nil {
		return fmt.Errorf("store what a photo looks like: %w", err)
	}
	return nil
}

// mostAlike bounds how many looks with a part in common are compared, for each part.
const mostAlike = 250

// SeenPhotos implements service.Reader.
func (db *DB) SeenPhotos(ctx context.Context, sha256, look string) ([]review.Upload, error) {
	digests := []string{sha256}
	if look != "" {
		parts := photo.Likeness(look).Parts()
		for i, column := range []string{"part_a", "part_b", "part_c", "part_d"} {
			var rows []lookRow
			if err := db.read(ctx).Where(column+" = ?", parts[i]).Limit(mostAlike).Find(&rows).Error; err != nil {
				return nil, fmt.Errorf("look for photos like one: %w", err)
			}
			for _, row := range rows {
				if photo.Likeness(row.Look).Differs(photo.Likeness(look)) <= photo.Nearly {
					digests = append(digests, row.SHA256)
				}
			}
		}
	}
	const most = 20
	var rows []uploadRow
	if err := db.read(ctx).Where("sha256 IN ?", storableIDs(digests)).Order("at DESC, id").Limit(most).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("look for photos like one: %w", err)
	}
	var found []review.Upload
	for _, row := range rows {
		found = append(found, row.fromRow())
	}
	return found, nil
}

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

// noLook stands where a photo was looked at and there is nothing by which it could be told: no look has so few bits, and no part is
// noPart.
const (
	noLook = "00000000000000000000000000000000"
	noPart = -1
)

func toLookRow(sha256, look string) lookRow {
	if look == "" {
		return lookRow{sha256, noLook, noPart, noPart, noPart, noPart}
	}
	parts := photo.Likeness(look).Parts()
	return lookRow{sha256, look, parts[0], parts[1], parts[2], parts[3]}
}

// lookRowsOf are what photos of a batch look like. Of an upload without a look nothing is stored: it was not looked at, or a job says so.
func lookRowsOf(batch *review.Batch) (rows []lookRow) {
	if u := batch.Upload; u != nil && u.Look != "" {
		rows = append(rows, toLookRow(u.SHA256, u.Look))
	}
	for _, l := range batch.Looks {
		rows = append(rows, toLookRow(l.SHA256, l.Look))
	}
	return rows
}

func storeLooks(tx *gorm.DB, rows []lookRow) error {
	if len(rows) == 0 {
		return nil
	}
	if err := tx.Clauses(clause.OnConflict{DoNothing: true}).CreateInBatches(rows, looksAtOnce).Error; err != nil {
		return fmt.Errorf("store what a photo looks like: %w", err)
	}
	return nil
}

// looksAtOnce bounds the rows of one statement.
const looksAtOnce = 500

const withoutLook = "FROM uploads AS u WHERE u.sha256 > ? AND NOT EXISTS (SELECT 1 FROM photo_looks AS l WHERE l.sha256 = u.sha256)"

// PhotosWithoutLook implements service.LookReader.
func (db *DB) PhotosWithoutLook(ctx context.Context, after string, most int) (digests []string, err error) {
	if err := db.read(ctx).Raw("SELECT DISTINCT u.sha256 "+withoutLook+" ORDER BY u.sha256 LIMIT ?", after, most).Scan(&digests).Error; err != nil {
		return nil, fmt.Errorf("look for photos without a look: %w", err)
	}
	return digests, nil
}

// CountPhotosWithoutLook implements service.LookReader.
func (db *DB) CountPhotosWithoutLook(ctx context.Context) (n int, err error) {
	if err := db.read(ctx).Raw("SELECT count(DISTINCT u.sha256) "+withoutLook, "").Scan(&n).Error; err != nil {
		return 0, fmt.Errorf("count photos without a look: %w", err)
	}
	return n, nil
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

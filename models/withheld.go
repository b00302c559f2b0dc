package models

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"revidit/review"
)

// withheldRow is a row of withheld: label data that events hold only a digest of.
type withheldRow struct {
	ID     string `gorm:"primaryKey"`
	Digest string
	Salt   []byte
	Body   string
}

func (withheldRow) TableName() string { return "withheld" }

func toWithheldRow(s review.WithheldRecord) withheldRow {
	return withheldRow{ID: s.ID, Digest: s.Digest, Salt: s.Salt, Body: s.Body}
}

func (r withheldRow) fromRow() review.WithheldRecord {
	return review.WithheldRecord{ID: r.ID, Digest: r.Digest, Salt: r.Salt, Body: r.Body}
}

// Withheld implements review.Reader.
func (db *DB) Withheld(ctx context.Context, ids []string) (map[string]review.WithheldRecord, error) {
	found := map[string]review.WithheldRecord{}
	ids = storableIDs(ids)
	if len(ids) == 0 {
		return found, nil
	}
	var rows []withheldRow
	if err := db.read(ctx).Where("id IN ?", ids).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read withheld label data: %w", err)
	}
	for _, row := range rows {
		found[row.ID] = row.fromRow()
	}
	return found, nil
}

// EraseWithheld deletes withheld label data, salt included, and returns how many of the ids there were. Nothing that
// stays can tell what they held. It cannot be undone.
func (db *DB) EraseWithheld(ctx context.Context, ids []string) (int, error) {
	ids = storableIDs(ids)
	if len(ids) == 0 {
		return 0, nil
	}
	erased := 0
	err := db.write(ctx, func(tx *gorm.DB) error {
		result := tx.Where("id IN ?", ids).Delete(&withheldRow{})
		if result.Error != nil {
			return fmt.Errorf("erase withheld label data: %w", result.Error)
		}
		erased = int(result.RowsAffected)
		return nil
	})
	return erased, err
}

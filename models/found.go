package models

import (
	"context"
	"errors"
	"fmt"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/review"
)

// foundRow is a row of findings.
type foundRow struct {
	Kind      review.FoundKind `gorm:"primaryKey"`
	GroupID   string           `gorm:"primaryKey"`
	Key       string           `gorm:"primaryKey"`
	TouchedAt instant
	Partial   *string
	MadeAt    *instant
	SpentUs   int64
	PeakBytes int64
	Body      *string
}

func (foundRow) TableName() string { return "findings" }

func toFoundRow(f review.Found) foundRow {
	row := foundRow{Kind: f.Kind, GroupID: f.Group, Key: f.Key, TouchedAt: instantOf(f.TouchedAt), Partial: textOrNull(f.Partial), Body: textOrNull(f.Body)}
	if f.Made != nil {
		row.MadeAt, row.SpentUs, row.PeakBytes = instantOrNull(&f.Made.At), f.Made.Took.Microseconds(), f.Made.Peak
	}
	return row
}

func textOrNull(text []byte) *string {
	if text == nil {
		return nil
	}
	s := string(text)
	return &s
}

func (r foundRow) fromRow() review.Found {
	f := review.Found{Kind: r.Kind, Group: r.GroupID, Key: r.Key, TouchedAt: r.TouchedAt.Time}
	if r.Partial != nil {
		f.Partial = []byte(*r.Partial)
	}
	if r.MadeAt != nil && r.Body != nil {
		f.Made = &review.Making{At: r.MadeAt.Time, Took: time.Duration(r.SpentUs) * time.Microsecond, Peak: r.PeakBytes}
		f.Body = []byte(*r.Body)
	}
	return f
}

// Found implements review.Reader.
func (db *DB) Found(ctx context.Context, kind review.FoundKind, group, key string) (review.Found, error) {
	none := review.Found{Kind: kind, Group: group, Key: key}
	if !storable(group) || !storable(key) {
		return none, nil
	}
	var row foundRow
	err := db.read(ctx).Where("kind = ? AND group_id = ? AND key = ?", kind, group, key).Take(&row).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return none, nil
	}
	if err != nil {
		return none, fmt.Errorf("read %s of %s: %w", kind, group, err)
	}
	return row.fromRow(), nil
}

// foundKept is how long what only somebody once asked about is kept after it was last worked on.
const foundKept = 30 * 24 * time.Hour

// storeFound puts rows in place of older ones. Of previews, which are as many as there were questions, old ones go.
func storeFound(tx *gorm.DB, rows []foundRow) error {
	same := clause.OnConflict{Columns: []clause.Column{{Name: "kind"}, {Name: "group_id"}, {Name: "key"}}, UpdateAll: true}
	if err := insert(tx.Clauses(same), "what was found", rows); err != nil {
		return err
	}
	for _, row := range rows {
		if row.Kind != review.FoundPreview && row.Kind != review.FoundReassessment || row.Body == nil {
			continue
		}
		old := instantOf(row.TouchedAt.Add(-foundKept))
		if err := tx.Where("kind = ? AND touched_at < ?", row.Kind, old).Delete(&foundRow{}).Error; err != nil {
			return fmt.Errorf("remove old previews: %w", err)
		}
		if row.Kind != review.FoundReassessment {
			continue
		}
		gone := tx.Where("change NOT IN (SELECT key FROM findings WHERE kind = ?)", row.Kind).Delete(&touchedRow{})
		if gone.Error != nil {
			return fmt.Errorf("remove what old reassessments have found: %w", gone.Error)
		}
	}
	return nil
}

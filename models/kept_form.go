package models

import (
	"context"
	"encoding/json"
	"fmt"

	"gorm.io/gorm"

	"revidit/review"
)

// keptFormRow is a row of kept_forms.
type keptFormRow struct {
	ID     string `gorm:"primaryKey"`
	Person string
	Path   string
	Body   string
	At     instant
}

func (keptFormRow) TableName() string { return "kept_forms" }

// KeepForm implements service.Store.
func (db *DB) KeepForm(ctx context.Context, form review.KeptForm) error {
	body, err := json.Marshal(form.Values)
	if err != nil {
		return fmt.Errorf("encode a form: %w", err)
	}
	row := keptFormRow{ID: form.ID, Person: form.Person, Path: form.Path, Body: string(body), At: instantOf(form.At)}
	return db.write(ctx, func(tx *gorm.DB) error {
		if err := insert(tx, "a form", []keptFormRow{row}); err != nil {
			return err
		}
		var old []string
		older := byID(tx.Model(&keptFormRow{}), "person", form.Person).Order("at DESC, id DESC").Offset(review.MostKept).Limit(expiredAtOnce)
		if err := older.Pluck("id", &old).Error; err != nil {
			return fmt.Errorf("find older forms: %w", err)
		}
		if len(old) == 0 {
			return nil
		}
		if err := tx.Where("id IN ?", old).Delete(&keptFormRow{}).Error; err != nil {
			return fmt.Errorf("remove older forms: %w", err)
		}
		return nil
	})
}

// KeptForm implements service.Reader.
func (db *DB) KeptForm(ctx context.Context, person, id string) (review.KeptForm, error) {
	row, err := find[keptFormRow](byID(byID(db.read(ctx), "id", id), "person", person), "There is no such form, or it was kept for a day and is gone.")
	if err != nil {
		return review.KeptForm{}, err
	}
	form := review.KeptForm{ID: row.ID, Person: row.Person, Path: row.Path, At: row.At.Time}
	if err := json.Unmarshal([]byte(row.Body), &form.Values); err != nil {
		return review.KeptForm{}, fmt.Errorf("decode a kept form: %w", err)
	}
	return form, nil
}

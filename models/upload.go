package models

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"gorm.io/gorm"

	"revidit/review"
)

// uploadRow is a row of uploads. The view of a photo is what a specimen says about it, and stands there.
type uploadRow struct {
	ID         string `gorm:"primaryKey"`
	SHA256     string `gorm:"column:sha256"`
	Type       string
	Width      int
	Height     int
	Uploader   string
	At         instant
	SpecimenID *string
	DraftID    *string
}

func (uploadRow) TableName() string { return "uploads" }

func toUploadRow(u review.Upload) uploadRow {
	row := uploadRow{ID: u.ID, SHA256: u.SHA256, Type: u.Type, Width: u.Width, Height: u.Height, Uploader: u.By, At: instantOf(u.At)}
	if u.Specimen != "" {
		row.SpecimenID = &u.Specimen
	}
	if u.Draft != "" {
		row.DraftID = &u.Draft
	}
	return row
}

func (r uploadRow) fromRow() review.Upload {
	u := review.Upload{Photo: review.Photo{ID: r.ID, SHA256: r.SHA256, Type: r.Type, Width: r.Width, Height: r.Height,
		By: r.Uploader, At: r.At.Time}}
	if r.SpecimenID != nil {
		u.Specimen = *r.SpecimenID
	}
	if r.DraftID != nil {
		u.Draft = *r.DraftID
	}
	return u
}

// SaveUpload keeps the row of an uploaded photo that no specimen has yet.
func (db *DB) SaveUpload(ctx context.Context, u review.Upload) error {
	return db.Commit(ctx, review.Batch{Upload: &u})
}

// Upload implements review.Reader.
func (db *DB) Upload(ctx context.Context, id string) (review.Upload, error) {
	row, err := find[uploadRow](byID(db.read(ctx), "id", id), "There is no photo %s.", id)
	if err != nil {
		return review.Upload{}, err
	}
	return row.fromRow(), nil
}

// Uploads implements service.Reader.
func (db *DB) Uploads(ctx context.Context, ids []string) (map[string]review.Upload, error) {
	uploads := map[string]review.Upload{}
	if ids = storableIDs(ids); len(ids) == 0 {
		return uploads, nil
	}
	var rows []uploadRow
	if err := db.read(ctx).Where("id IN ?", ids).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read photos: %w", err)
	}
	for _, row := range rows {
		uploads[row.ID] = row.fromRow()
	}
	return uploads, nil
}

// takenMeanwhile is said of a photo that somebody was quicker with.
const takenMeanwhile = "Photo %s belongs to another specimen or draft. Nothing was stored; upload the photo again for this one."

// attachUploads gives photos to specimens. A photo that another specimen or a draft has taken meanwhile stays there, and the act
// that wanted it fails. Sorted, so that two acts with the same photos cannot wait for each other.
func attachUploads(tx *gorm.DB, attach map[string]string) error {
	for _, photo := range slices.Sorted(maps.Keys(attach)) {
		specimen := attach[photo]
		result := tx.Model(&uploadRow{}).Where("id = ? AND (specimen_id IS NULL OR specimen_id = ?) AND draft_id IS NULL", photo, specimen).
			Update("specimen_id", specimen)
		if result.Error != nil {
			return fmt.Errorf("attach photo %s: %w", photo, result.Error)
		}
		if result.RowsAffected == 0 {
			return review.Errorf(review.KindConflict, takenMeanwhile, photo)
		}
	}
	return nil
}

// KnownPhotos implements service.Reader.
func (db *DB) KnownPhotos(ctx context.Context, digests []string) (map[string]bool, error) {
	known := map[string]bool{}
	if digests = storableIDs(digests); len(digests) == 0 {
		return known, nil
	}
	var found []string
	if err := db.read(ctx).Model(&uploadRow{}).Where("sha256 IN ?", digests).Distinct().Pluck("sha256", &found).Error; err != nil {
		return nil, fmt.Errorf("look for photos: %w", err)
	}
	for _, digest := range found {
		known[digest] = true
	}
	return known, nil
}

// AnyPhoto implements service.Reader.
func (db *DB) AnyPhoto(ctx context.Context) (bool, error) {
	var one []string
	if err := db.read(ctx).Model(&uploadRow{}).Limit(1).Pluck("id", &one).Error; err != nil {
		return false, fmt.Errorf("look for a photo: %w", err)
	}
	return len(one) > 0, nil
}

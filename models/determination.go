package models

import (
	"context"
	"fmt"
	"slices"

	"gorm.io/gorm"

	"revidit/review"
)

const (
	// determinationsAtOnce bounds the memory of EachDetermination and EachSpecimen.
	determinationsAtOnce = 200
	// whereStands is stands as in the index submissions_determinations, word for word, so that the index serves.
	whereStands = "status IN ('open', 'returned', 'confirmed')"
)

// EachDetermination implements review.Reader. Between the visits nothing is held: a visit may take its time and may
// write. What changes meanwhile is visited as it was when its page was read, or not at all where it was of the kind no
// more by then.
func (db *DB) EachDetermination(ctx context.Context, group string, visit func(review.Submission, review.Specimen, []review.Submission) error) error {
	if !storable(group) {
		return nil
	}
	after := ""
	for {
		var page []submissionRow
		err := db.read(ctx).Select("id", "specimen_id").Where("group_id = ? AND id > ? AND "+whereStands, group, after).
			Order("id").Limit(determinationsAtOnce).Find(&page).Error
		if err != nil {
			return fmt.Errorf("list determinations: %w", err)
		}
		if len(page) == 0 {
			return nil
		}
		after = page[len(page)-1].ID
		ids := make([]string, 0, len(page))
		for _, row := range page {
			ids = append(ids, row.SpecimenID)
		}
		found, err := db.determinations(ctx, group, ids)
		if err != nil {
			return err
		}
		for _, row := range page {
			if err := found.visit(row, visit); err != nil {
				return err
			}
		}
	}
}

// determinations are some specimens with all of their submissions.
type determinations struct {
	specimens map[string]review.Specimen
	of        map[string][]review.Submission // by id of the specimen, the oldest first
	standing  map[string]bool                // ids of submissions that are to be visited
}

func (d determinations) visit(row submissionRow, visit func(review.Submission, review.Specimen, []review.Submission) error) error {
	specimen, ok := d.specimens[row.SpecimenID]
	if !ok || !d.standing[row.ID] {
		return nil // has changed since the page was listed
	}
	siblings := d.of[row.SpecimenID]
	i := slices.IndexFunc(siblings, func(s review.Submission) bool { return s.ID == row.ID })
	return visit(siblings[i], specimen, siblings)
}

// determinations reads some specimens with all of their submissions. Specimens come second: one that is read later than its
// submissions has every observation that they cite.
func (db *DB) determinations(ctx context.Context, group string, ids []string) (determinations, error) {
	return determinationsIn(db.read(ctx), group, ids)
}

func determinationsIn(tx *gorm.DB, group string, ids []string) (determinations, error) {
	found := determinations{map[string]review.Specimen{}, map[string][]review.Submission{}, map[string]bool{}}
	var rows []submissionRow
	if err := tx.Where("specimen_id IN ?", ids).Order("specimen_id, drafted_at, id").Find(&rows).Error; err != nil {
		return found, fmt.Errorf("read determinations: %w", err)
	}
	for _, row := range rows {
		submission, err := row.fromRow()
		if err != nil {
			return found, err
		}
		found.of[row.SpecimenID] = append(found.of[row.SpecimenID], submission)
		found.standing[row.ID] = row.GroupID == group && stands(row.Status)
	}
	var specimens []specimenRow
	if err := tx.Where("id IN ?", ids).Find(&specimens).Error; err != nil {
		return found, fmt.Errorf("read specimens of determinations: %w", err)
	}
	for _, row := range specimens {
		specimen, err := row.fromRow()
		if err != nil {
			return found, err
		}
		found.specimens[row.ID] = specimen
	}
	return found, nil
}

func stands(s review.Status) bool {
	return s == review.StatusOpen || s == review.StatusReturned || s == review.StatusConfirmed
}

// EachSpecimen implements review.Reader. As in EachDetermination nothing is held between the visits.
func (db *DB) EachSpecimen(ctx context.Context, group string, visit func(review.Specimen, []review.Submission) error) error {
	if !storable(group) {
		return nil
	}
	after := ""
	for {
		var ids []string
		err := db.read(ctx).Model(&submissionRow{}).Distinct("specimen_id").
			Where("group_id = ? AND opened_at IS NOT NULL AND specimen_id > ?", group, after).
			Order("specimen_id").Limit(determinationsAtOnce).Pluck("specimen_id", &ids).Error
		if err != nil {
			return fmt.Errorf("list specimens: %w", err)
		}
		if len(ids) == 0 {
			return nil
		}
		after = ids[len(ids)-1]
		found, err := db.determinations(ctx, group, ids)
		if err != nil {
			return err
		}
		for _, id := range ids {
			if err := visit(found.specimens[id], found.of[id]); err != nil {
				return err
			}
		}
	}
}

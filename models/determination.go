package models

import (
	"context"
	"fmt"
	"slices"

	"gorm.io/gorm"

	"revidit/review"
	"revidit/review/service"
)

const (
	// determinationsAtOnce bounds the memory of EachDetermination and EachSpecimen.
	determinationsAtOnce = 200
	// whereStands and whereWaits are as in the indexes submissions_determinations and submissions_waiting, word for word, so that these serve.
	whereStands = "status IN ('open', 'returned', 'confirmed')"
	whereWaits  = "status IN ('open', 'returned')"
)

// EachDetermination implements review.Reader. Between the visits nothing is held: a visit may take its time and may
// write. What changes meanwhile is visited as it was when its page was read, or not at all where it was of the kind no
// more by then.
func (db *DB) EachDetermination(ctx context.Context, group string, visit func(review.Submission, review.Specimen, []review.Submission) error) error {
	if !storable(group) {
		return nil
	}
	for page := (service.Page{Size: determinationsAtOnce}); ; {
		found, next, err := db.FindDeterminations(ctx, service.DeterminationFilter{Group: group}, page)
		if err != nil {
			return err
		}
		for _, d := range found {
			if err := visit(d.Submission, d.Specimen, d.Siblings); err != nil {
				return err
			}
		}
		if page.Cursor = next; next == "" {
			return nil
		}
	}
}

// FindDeterminations implements service.Reader.
func (db *DB) FindDeterminations(ctx context.Context, f service.DeterminationFilter, page service.Page) ([]service.Determined, string, error) {
	if !storable(f.Group) || !storable(page.Cursor) {
		return nil, "", nil
	}
	where := whereStands
	if f.Waiting {
		where = whereWaits
	}
	query := db.read(ctx).Select("id", "specimen_id").Where("group_id = ? AND id > ? AND "+where, f.Group, page.Cursor)
	var rows []submissionRow
	if err := query.Order("id").Limit(page.Size).Find(&rows).Error; err != nil {
		return nil, "", fmt.Errorf("list determinations: %w", err)
	}
	var out []service.Determined
	for rows := range slices.Chunk(rows, determinationsAtOnce) {
		ids := make([]string, 0, len(rows))
		for _, row := range rows {
			ids = append(ids, row.SpecimenID)
		}
		found, err := db.determinations(ctx, f.Group, ids)
		if err == nil {
			err = leaveOut(found.unread, f.Unread)
		}
		if err != nil {
			return nil, "", err
		}
		for _, row := range rows {
			if d, ok := found.determined(row); ok {
				out = append(out, d)
			}
		}
	}
	if len(rows) < page.Size {
		return out, "", nil
	}
	return out, rows[len(rows)-1].ID, nil
}

// CountDeterminations implements service.Reader.
func (db *DB) CountDeterminations(ctx context.Context, group string) (map[string]int, error) {
	counts := map[string]int{}
	if !storable(group) {
		return counts, nil
	}
	var rows []struct {
		Family string
		N      int
	}
	err := db.read(ctx).Model(&submissionRow{}).Select("family, count(*) AS n").Where("group_id = ? AND "+whereStands, group).
		Group("family").Scan(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("count determinations: %w", err)
	}
	for _, row := range rows {
		counts[row.Family] = row.N
	}
	return counts, nil
}

// determinations are some specimens with all of their submissions.
type determinations struct {
	specimens map[string]review.Specimen
	of        map[string][]review.Submission // by id of the specimen, the oldest first
	standing  map[string]bool                // ids of submissions that are to be visited
	unread    []unreadRow                    // rows that could not be read; nothing of their specimens is in the maps
}

// dropUnread takes out all that belongs to specimens of which something could not be read.
func (d *determinations) dropUnread(specimens map[string]bool) {
	for id := range specimens {
		delete(d.specimens, id)
		for _, s := range d.of[id] {
			delete(d.standing, s.ID)
		}
		delete(d.of, id)
	}
}

// determined is what belongs to a submission, and false where it has changed since it was listed and stands no more.
func (d determinations) determined(row submissionRow) (service.Determined, bool) {
	specimen, ok := d.specimens[row.SpecimenID]
	if !ok || !d.standing[row.ID] {
		return service.Determined{}, false
	}
	siblings := d.of[row.SpecimenID]
	i := slices.IndexFunc(siblings, func(s review.Submission) bool { return s.ID == row.ID })
	return service.Determined{Submission: siblings[i], Specimen: specimen, Siblings: siblings}, true
}

// determinations reads some specimens with all of their submissions. Specimens come second: one that is read later than its
// submissions has every observation that they cite.
func (db *DB) determinations(ctx context.Context, group string, ids []string) (determinations, error) {
	return determinationsIn(db.read(ctx), group, ids)
}

func determinationsIn(tx *gorm.DB, group string, ids []string) (determinations, error) {
	found := determinations{specimens: map[string]review.Specimen{}, of: map[string][]review.Submission{}, standing: map[string]bool{}}
	incomplete := map[string]bool{}
	var rows []submissionRow
	if err := tx.Where("specimen_id IN ?", ids).Order("specimen_id, drafted_at, id").Find(&rows).Error; err != nil {
		return found, fmt.Errorf("read determinations: %w", err)
	}
	for _, row := range rows {
		submission, err := row.fromRow()
		if err != nil {
			incomplete[row.SpecimenID] = true
			found.unread = append(found.unread, unreadRow{review.SubmissionStream(row.ID), err})
			continue
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
			incomplete[row.ID] = true
			found.unread = append(found.unread, unreadRow{review.SpecimenStream(row.ID), err})
			continue
		}
		found.specimens[row.ID] = specimen
	}
	found.dropUnread(incomplete)
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
		if err == nil {
			err = leaveOut(found.unread, nil)
		}
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

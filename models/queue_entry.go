package models

import (
	"fmt"
	"math"
	"strings"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/migrations"
	"revidit/review"
)

// entryRow is a row of queue_entries: where a submission stands in one of the lists that the queue is made of. Only what
// waits has such rows.
type entryRow struct {
	SubmissionID string `gorm:"primaryKey"`
	Place        int    `gorm:"primaryKey;autoIncrement:false"` // 0: by how long it waits; from 1: the most telling region first
	List         string
	Urgency      float64 // larger comes first
	Family       string
	Trip         string
	StoragePlace string
}

func (entryRow) TableName() string { return "queue_entries" }

// Kinds of lists: who waits for a look, who waits for a panel, and by what a look at one region of the body tells. The
// id of a group has no slash.
const (
	listOpen    = "open"
	listRecheck = "recheck"
	listGain    = "gain"
)

func waitingList(kind, group string) string { return kind + "/" + group }

func gainList(group, region string) string { return listGain + "/" + group + "/" + region }

// listParts is the inverse of waitingList and gainList.
func listParts(list string) (kind, group, region string) {
	kind, rest, _ := strings.Cut(list, "/")
	group, region, _ = strings.Cut(rest, "/")
	return kind, group, region
}

// millionth rounds a gain, so that gains which differ do so by enough for their order to survive a weight.
func millionth(gain float64) float64 { return math.Round(gain*1e6) / 1e6 }

// toEntryRows are the entries of a submission, without what the label says.
func toEntryRows(s review.Submission) []entryRow {
	kind, since := waits(&s)
	if kind == "" {
		return nil
	}
	rows := []entryRow{{SubmissionID: s.ID, List: waitingList(kind, s.Group), Urgency: -since, Family: s.Determination.Family}}
	if kind == listRecheck {
		return rows
	}
	gains := s.Gains
	if len(gains) == 0 { // stored before there were gains by region: one for the whole specimen
		gains = []review.RegionGain{{Gain: s.Gain}}
	}
	for i, g := range gains {
		if gain := millionth(g.Gain); gain > 0 {
			rows = append(rows, entryRow{SubmissionID: s.ID, Place: i + 1, List: gainList(s.Group, g.Region), Urgency: gain, Family: s.Determination.Family})
		}
	}
	return rows
}

// waits says for what a submission waits, and since when, in seconds since 1970: for a look while it is open, and where it
// is closed for a panel from when it was drawn until the panel is complete.
func waits(s *review.Submission) (kind string, since float64) {
	switch {
	case s.RecheckOpen():
		return listRecheck, unixSeconds(s.Recheck.DrawnAt)
	case s.Series != "": // waits for its mentor alone
	case s.Status == review.StatusOpen && s.OpenedAt != nil:
		return listOpen, unixSeconds(*s.OpenedAt)
	}
	return "", 0
}

// labels are what a batch says of labels.
type labels struct {
	of        map[string]review.Label // of specimens that the batch moves, which is as new as can be
	corrected []string                // specimens
}

func labelsOf(batch review.Batch) labels {
	l, moved := labels{of: map[string]review.Label{}}, map[string]bool{}
	for _, e := range batch.Events {
		moved[e.Stream] = true
		if _, ok := e.Change.(*review.LabelCorrected); ok {
			l.corrected = append(l.corrected, specimenOf(e.Stream))
		}
	}
	for _, s := range batch.Specimens {
		if moved[review.SpecimenStream(s.ID)] {
			l.of[s.ID] = s.Label
		}
	}
	return l
}

// replaceEntries puts the entries of a submission in place of those that it has.
func (db *DB) replaceEntries(tx *gorm.DB, s review.Submission, known labels) error {
	if err := tx.Where("submission_id = ?", s.ID).Delete(&entryRow{}).Error; err != nil {
		return fmt.Errorf("replace queue entries: %w", err)
	}
	rows := toEntryRows(s)
	if len(rows) == 0 {
		return nil
	}
	label, ok := known.of[s.Specimen]
	if !ok {
		var err error
		if label, err = db.label(tx, s.Specimen); err != nil {
			return err
		}
	}
	for i := range rows {
		rows[i].Trip, rows[i].StoragePlace = label.Trip, label.StoragePlace
	}
	return insert(tx, "queue entries", rows)
}

// label reads what queue entries hold of a label.
func (db *DB) label(tx *gorm.DB, specimen string) (review.Label, error) {
	query := tx.Select("trip", "storage_place")
	if db.dialect == migrations.Postgres { // who corrects the label meanwhile waits, and then finds these entries
		query = query.Clauses(clause.Locking{Strength: "SHARE"})
	}
	var row specimenRow
	if err := query.Where("id = ?", specimen).Take(&row).Error; err != nil {
		return review.Label{}, fmt.Errorf("read the label for queue entries: %w", err)
	}
	return review.Label{Trip: row.Trip, StoragePlace: row.StoragePlace}, nil
}

// relabelEntries gives the entries of specimens what their corrected labels say.
func (l labels) relabelEntries(tx *gorm.DB) error {
	for _, id := range l.corrected {
		label, ok := l.of[id]
		if !ok {
			continue // a store is given events alone only by those who make no rows
		}
		entries := tx.Model(&entryRow{}).Where("submission_id IN (?)", tx.Model(&submissionRow{}).Select("id").Where("specimen_id = ?", id)).
			Where("trip <> ? OR storage_place <> ?", label.Trip, label.StoragePlace)
		err := entries.Updates(map[string]any{"trip": label.Trip, "storage_place": label.StoragePlace}).Error
		if err != nil {
			return fmt.Errorf("correct queue entries: %w", err)
		}
	}
	return nil
}

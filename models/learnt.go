package models

import (
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"revidit/migrations"
	"revidit/review"
)

// markLearnt notes which specimens events have taken in, each once: a refit takes all that were closed by its time. What was closed later,
// or is open again, it did not see, so that it waits to be taken in (again, where an earlier snapshot had it).
func markLearnt(tx *gorm.DB, r review.Reliability, events []review.Event) error {
	for _, e := range events {
		switch c := e.Change.(type) {
		case *review.ReliabilityLearned:
			if err := markSpecimens(tx, r.Group, c.Specimens, true); err != nil {
				return err
			}
		case *review.ReliabilityRefitted:
			if err := markThrough(tx, r); err != nil {
				return err
			}
			again := tx.Model(&testimonyRow{}).Where("group_id = ? AND (closed_at > ? OR closed_at IS NULL) AND learnt > 0", r.Group, instantOf(r.Refitted)).Update("learnt", 0)
			if again.Error != nil {
				return fmt.Errorf("note what waits to be learnt from: %w", again.Error)
			}
		}
	}
	return nil
}

func markThrough(tx *gorm.DB, r review.Reliability) error {
	taken := tx.Model(&testimonyRow{}).Where("group_id = ? AND closed_at <= ? AND learnt = 0", r.Group, instantOf(r.Refitted)).Update("learnt", 1)
	if taken.Error != nil {
		return fmt.Errorf("note what was learnt from: %w", taken.Error)
	}
	return nil
}

func markSpecimens(tx *gorm.DB, group string, specimens []string, learnt bool) error {
	const atOnce = 1000 // databases bound how many values a statement has
	value := 0
	if learnt {
		value = 1
	}
	for ids := range slices.Chunk(specimens, atOnce) {
		taken := tx.Model(&testimonyRow{}).Where("group_id = ? AND specimen_id IN ? AND learnt <> ?", group, ids, value).Update("learnt", value)
		if taken.Error != nil {
			return fmt.Errorf("note what was learnt from: %w", taken.Error)
		}
	}
	return nil
}

// rebuildLearnt works out again from which specimens a snapshot has learnt, which the events of its stream make: those that were closed
// by the time of the last refit when it was stored, and those that were added since. Rows are unmarked before.
func rebuildLearnt(tx *gorm.DB, r review.Reliability, events []review.Event, dialect string) error {
	refit := 0
	for _, e := range events {
		if _, ok := e.Change.(*review.ReliabilityRefitted); ok {
			refit = e.Seq
		}
	}
	if refit > 0 {
		if err := markThrough(tx, r); err != nil {
			return err
		}
		if err := markTurned(tx, r, refit, dialect); err != nil {
			return err
		}
	}
	return markSpecimens(tx, r.Group, r.Added, true)
}

// markTurned marks those that were closed or opened since a refit was stored by how they stood then.
func markTurned(tx *gorm.DB, r review.Reliability, refit int, dialect string) error {
	position := int64(0)
	if err := tx.Raw("SELECT position FROM event_positions WHERE stream = ? AND seq = ?", review.ReliabilityStream(r.Group), refit).Scan(&position).Error; err != nil {
		return fmt.Errorf("read when a refit was stored: %w", err)
	}
	if position == 0 { // it waits for its position, and so does what is later
		return nil
	}
	turned, err := turnedAfter(tx, position, dialect)
	if err != nil {
		return err
	}
	for ids := range slices.Chunk(turned, streamsAtOnce) {
		pasts, err := pastsOf(tx, ids)
		if err != nil {
			return err
		}
		var taken, waits []string
		for _, id := range ids {
			then, err := review.PastOf(pasts[id]).At(position)
			if err != nil {
				return err
			}
			closed, ok := review.ClosedOf(&then.Specimen, then.Submissions)
			if ok && !closed.At().After(r.Refitted) && slices.Contains(closed.Groups(), r.Group) {
				taken = append(taken, id)
			} else {
				waits = append(waits, id)
			}
		}
		if err := markSpecimens(tx, r.Group, taken, true); err != nil {
			return err
		}
		if err := markSpecimens(tx, r.Group, waits, false); err != nil {
			return err
		}
	}
	return nil
}

// turnedAfter are the specimens of which a submission came before reviewers or was closed behind a position.
func turnedAfter(tx *gorm.DB, position int64, dialect string) ([]string, error) {
	const turns = " AND e.kind IN ('submitted', 'confirmed', 'redetermined', 'undetermined', 'withdrawn', 'reopened')"
	later := "SELECT e.stream FROM event_positions AS p JOIN events AS e ON e.stream = p.stream AND e.seq = p.seq WHERE p.position > ?" + turns
	if dialect == migrations.Postgres { // what waits for a position is later than all that have one
		later += " UNION SELECT e.stream FROM event_outbox AS o JOIN events AS e ON e.stream = o.stream AND e.seq = o.seq WHERE true" + turns
	}
	var streams []string
	if err := tx.Raw("SELECT DISTINCT stream FROM ("+later+") AS later", position).Scan(&streams).Error; err != nil {
		return nil, fmt.Errorf("list what was closed since a refit: %w", err)
	}
	var specimens []string
	for some := range slices.Chunk(streams, streamsAtOnce) {
		ids := make([]string, len(some))
		for i, stream := range some {
			ids[i] = strings.TrimPrefix(stream, review.SubmissionStream(""))
		}
		var found []string
		if err := tx.Model(&submissionRow{}).Where("id IN ?", ids).Pluck("specimen_id", &found).Error; err != nil {
			return nil, fmt.Errorf("list specimens closed since a refit: %w", err)
		}
		specimens = append(specimens, found...)
	}
	slices.Sort(specimens)
	return slices.Compact(specimens), nil
}

// pastsOf are the events of some specimens and of their submissions, with their positions.
func pastsOf(tx *gorm.DB, specimens []string) (map[string][]review.Placed, error) {
	var submissions []submissionRow
	if err := tx.Select("id", "specimen_id").Where("specimen_id IN ?", specimens).Find(&submissions).Error; err != nil {
		return nil, fmt.Errorf("list submissions of specimens: %w", err)
	}
	of := map[string]string{}
	for _, id := range specimens {
		of[review.SpecimenStream(id)] = id
	}
	for _, s := range submissions {
		of[review.SubmissionStream(s.ID)] = s.SpecimenID
	}
	streams := make([]string, 0, len(of))
	for stream := range of {
		streams = append(streams, stream)
	}
	pasts := map[string][]review.Placed{}
	for some := range slices.Chunk(streams, streamsAtOnce) {
		var rows []placedRow
		err := tx.Table("events").Select("p.position, events.*").Joins("JOIN event_positions AS p ON p.stream = events.stream AND p.seq = events.seq").
			Where("events.stream IN ?", some).Scan(&rows).Error
		if err != nil {
			return nil, fmt.Errorf("read events in order: %w", err)
		}
		events, err := fromRows(rows, placedRow.fromRow)
		if err != nil {
			return nil, err
		}
		for _, e := range events {
			pasts[of[e.Stream]] = append(pasts[of[e.Stream]], e)
		}
	}
	for id := range pasts {
		pasts[id] = review.InHistory(pasts[id])
	}
	return pasts, nil
}

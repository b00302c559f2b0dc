package models

import (
	"fmt"
	"strings"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/review"
)

// judgedRow is a row of judged: at which count of evidence a person last judged a submission.
type judgedRow struct {
	Person       string `gorm:"primaryKey"`
	SubmissionID string `gorm:"primaryKey"`
	Evidence     int
}

func (judgedRow) TableName() string { return "judged" }

// judgedIn are the judgements in the events of a stream, from the first or from those that were stored: evidence is the
// count before them.
func judgedIn(events []review.Event, evidence int) []judgedRow {
	latest := map[string]int{}
	var rows []judgedRow
	for _, e := range events {
		if review.NewEvidence(e.Change) {
			evidence++
		}
		if !review.Judges(e.Change) {
			continue
		}
		row := judgedRow{Person: e.Actor, SubmissionID: strings.TrimPrefix(e.Stream, review.SubmissionStream("")), Evidence: evidence}
		if i, known := latest[e.Actor]; known {
			rows[i] = row
			continue
		}
		latest[e.Actor] = len(rows)
		rows = append(rows, row)
	}
	return rows
}

// judgedBy are the judgements that a batch adds.
func judgedBy(batch review.Batch) []judgedRow {
	var rows []judgedRow
	for _, s := range batch.Submissions {
		var events []review.Event
		evidence := s.Evidence
		for _, e := range batch.Events {
			if e.Stream != review.SubmissionStream(s.ID) {
				continue
			}
			events = append(events, e)
			if review.NewEvidence(e.Change) {
				evidence--
			}
		}
		rows = append(rows, judgedIn(events, evidence)...)
	}
	return rows
}

func storeJudged(tx *gorm.DB, rows []judgedRow) error {
	same := clause.OnConflict{Columns: []clause.Column{{Name: "person"}, {Name: "submission_id"}}, UpdateAll: true}
	return insert(tx.Clauses(same), "who has judged", rows)
}

// rebuildJudged makes the judgements of some submissions again.
func rebuildJudged(tx *gorm.DB, submissions []string, streams [][]review.Event) error {
	if err := tx.Where("submission_id IN ?", submissions).Delete(&judgedRow{}).Error; err != nil {
		return fmt.Errorf("clear who has judged: %w", err)
	}
	var rows []judgedRow
	for _, events := range streams {
		rows = append(rows, judgedIn(events, 0)...)
	}
	return insert(tx, "who has judged", rows)
}

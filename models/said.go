package models

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"gorm.io/gorm"

	"revidit/review"
)

// saidRow is a row of said: what a person said of a closed submission.
type saidRow struct {
	Person       string `gorm:"primaryKey"`
	SubmissionID string `gorm:"primaryKey"`
	ChangedAt    instant
	Confirmed    int
	Disputed     int
	Opinion      review.OpinionKind
	Against      int // of the submission
}

func (saidRow) TableName() string { return "said" }

// toSaidRows are those of a submission: none before it is closed, since what others say is sealed until then.
func toSaidRows(s *review.Submission) []saidRow {
	if !s.Closed() || s.OpenedAt == nil {
		return nil
	}
	against := 0
	if s.Assessment != nil {
		against = againstOf(s.Assessment.Contradictions)
	}
	by := map[string]*saidRow{}
	of := func(person string) *saidRow {
		if by[person] == nil {
			by[person] = &saidRow{Person: person, SubmissionID: s.ID, ChangedAt: instantOf(s.ChangedAt), Against: against}
		}
		return by[person]
	}
	for _, v := range s.Verdicts {
		row := of(v.By)
		switch v.Kind {
		case review.VerdictConfirm:
			row.Confirmed++
		case review.VerdictDispute:
			row.Disputed++
		}
	}
	for _, o := range s.Opinions {
		of(o.By).Opinion = o.Kind
	}
	var rows []saidRow
	for _, person := range slices.Sorted(maps.Keys(by)) {
		rows = append(rows, *by[person])
	}
	return rows
}

// sayings are what a batch changes of what was said.
type sayings struct {
	of   []string // submissions of which the rows are made anew
	rows []saidRow
}

func sayingsOf(batch review.Batch) (said sayings) {
	reopened := map[string]bool{}
	for _, e := range batch.Events {
		if _, ok := e.Change.(*review.Reopened); ok {
			reopened[strings.TrimPrefix(e.Stream, review.SubmissionStream(""))] = true
		}
	}
	for i := range batch.Submissions {
		s := &batch.Submissions[i]
		if s.Closed() || reopened[s.ID] {
			said.of = append(said.of, s.ID)
			said.rows = append(said.rows, toSaidRows(s)...)
		}
	}
	return said
}

func (said sayings) store(tx *gorm.DB) error {
	if len(said.of) == 0 {
		return nil
	}
	if err := tx.Where("submission_id IN ?", said.of).Delete(&saidRow{}).Error; err != nil {
		return fmt.Errorf("clear what was said: %w", err)
	}
	return insert(tx, "what was said", said.rows)
}

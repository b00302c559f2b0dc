package models

import (
	"fmt"

	"gorm.io/gorm"

	"revidit/review"
)

// gainRow is a row of submission_gains: what a look at one region of the body is expected to tell. Only open submissions
// have such rows, because the queue alone asks for them.
type gainRow struct {
	SubmissionID string `gorm:"primaryKey"`
	Place        int    `gorm:"primaryKey;autoIncrement:false"` // from 1, the most telling first
	Region       string
	Gain         float64
}

func (gainRow) TableName() string { return "submission_gains" }

func toGainRows(s review.Submission) []gainRow {
	if s.Status != review.StatusOpen {
		return nil
	}
	var rows []gainRow
	for i, g := range s.Gains {
		rows = append(rows, gainRow{SubmissionID: s.ID, Place: i + 1, Region: g.Region, Gain: g.Gain})
	}
	return rows
}

// replaceGains puts rows in place of all that some submissions have.
func replaceGains(tx *gorm.DB, submissions []string, rows []gainRow) error {
	if len(submissions) == 0 {
		return nil
	}
	if err := tx.Where("submission_id IN ?", submissions).Delete(&gainRow{}).Error; err != nil {
		return fmt.Errorf("replace gains: %w", err)
	}
	return insert(tx, "gains", rows)
}

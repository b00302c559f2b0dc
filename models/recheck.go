package models

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"revidit/review"
)

// recheckOf is the recheck of a submission as JSON, nil where none was drawn.
func recheckOf(s *review.Submission) (*string, error) {
	if s.Recheck == nil {
		return nil, nil
	}
	body, err := json.Marshal(s.Recheck)
	if err != nil {
		return nil, fmt.Errorf("encode the recheck of submission %s: %w", s.ID, err)
	}
	text := string(body)
	return &text, nil
}

// Rechecks implements review.Reader.
func (db *DB) Rechecks(ctx context.Context, group string, limit int, unread func(stream string)) ([]review.Submission, int, error) {
	if !storable(group) {
		return nil, 0, nil
	}
	var rows []struct {
		ID, Recheck string
		Status      review.Status
	}
	err := db.read(ctx).Model(&submissionRow{}).Select("id", "status", "recheck").Where("group_id = ? AND recheck IS NOT NULL", group).
		Order("id DESC").Limit(limit).Find(&rows).Error
	if err != nil {
		return nil, 0, fmt.Errorf("read rechecks: %w", err)
	}
	out := make([]review.Submission, 0, len(rows))
	var left []unreadRow
	for _, row := range rows {
		drawn := review.Submission{ID: row.ID, Group: group, Status: row.Status}
		err := json.Unmarshal([]byte(row.Recheck), &drawn.Recheck)
		if err == nil && drawn.Recheck == nil {
			err = errors.New("there is none in it")
		}
		if err != nil {
			left = append(left, unreadRow{review.SubmissionStream(row.ID), unreadable("the recheck of submission", row.ID, err)})
			continue
		}
		out = append(out, drawn)
	}
	if err := leaveOut(left, unread); err != nil {
		return nil, 0, err
	}
	var closed int64
	err = db.read(ctx).Model(&submissionRow{}).Where("group_id = ? AND status IN ('confirmed', 'undetermined')", group).Count(&closed).Error
	if err != nil {
		return nil, 0, fmt.Errorf("count closed submissions: %w", err)
	}
	return out, int(closed), nil
}

package models

import (
	"context"
	"fmt"

	"revidit/review"
)

// FindHandovers implements service.Reader. Ids are in order of time.
func (db *DB) FindHandovers(ctx context.Context, most int) ([]review.Handover, error) {
	var rows []eventRow
	first, behind := review.HandoverStream(""), "handover0" // the character behind the slash
	if err := db.read(ctx).Where("stream > ? AND stream < ?", first, behind).Order("stream DESC, seq DESC").Limit(most).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("list archives that were handed over: %w", err)
	}
	events, err := fromRows(rows, eventRow.fromRow)
	if err != nil {
		return nil, err
	}
	made := []review.Handover{}
	for _, e := range events {
		h, err := review.HandoverOf(e)
		if err != nil {
			return nil, err
		}
		made = append(made, h)
	}
	return made, nil
}

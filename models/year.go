package models

import (
	"context"
	"fmt"
	"time"

	"revidit/review"
	"revidit/review/service"
)

// CountFamilies implements service.Reader.
func (db *DB) CountFamilies(ctx context.Context, period review.Period, most int) (counted []service.FamilyCount, err error) {
	confirmed := db.turnsOfKind(ctx, "confirmed", period).Select("stream").Order("at DESC, stream DESC, seq DESC").Limit(most)
	const count = "SELECT s.group_id AS group_id, s.family AS family, count(DISTINCT s.id) AS settled FROM (?) AS confirmed " +
		"JOIN submissions AS s ON s.id = substr(confirmed.stream, ?) GROUP BY s.group_id, s.family ORDER BY s.group_id, s.family"
	if err := db.read(ctx).Raw(count, confirmed, len(review.SubmissionStream(""))+1).Scan(&counted).Error; err != nil {
		return nil, fmt.Errorf("count families that were settled: %w", err)
	}
	return counted, nil
}

// SettledBefore implements service.Reader. The submissions changed longest ago are looked at first: of a family that was there
// before, one of the first was settled then. The group is no column of the condition, so that no planner goes by its index.
func (db *DB) SettledBefore(ctx context.Context, group, family string, before time.Time) (found bool, err error) {
	if !storable(group) || !storable(family) {
		return false, nil
	}
	var one []int
	const find = "SELECT 1 FROM submissions AS s WHERE s.family = ? AND s.group_id || '' = ? AND s.opened_at IS NOT NULL AND " +
		"EXISTS (SELECT 1 FROM events AS e WHERE e.stream = ? || s.id AND e.kind = 'confirmed' AND e.at < ?) ORDER BY s.changed_at, s.id LIMIT 1"
	if err := db.read(ctx).Raw(find, family, group, review.SubmissionStream(""), instantOf(before)).Scan(&one).Error; err != nil {
		return false, fmt.Errorf("look for a family before a time: %w", err)
	}
	return len(one) > 0, nil
}

package models

import (
	"context"
	"fmt"
	"time"

	"gorm.io/gorm"

	"revidit/review"
)

// queueRow is a submission in the queue.
type queueRow struct {
	Line     lineRow `gorm:"embedded"`
	Gain     float64
	Priority float64
}

// priority is max(gain, age): gain in bits, age in units of review.AgeScaleDays. Written with CASE because the function
// for it has another name in each database. Parameters: asOf, scale, asOf, scale, in seconds.
const (
	age      = "(CAST(? AS double precision) - s.opened_unix) / CAST(? AS double precision)"
	priority = "CASE WHEN s.gain >= " + age + " THEN s.gain ELSE " + age + " END"
)

// queuePosition is where a page of FindQueue has ended. It carries the time of the first page, so that all pages are cut
// from one order.
type queuePosition struct {
	AsOf     instant `json:"as_of"`
	Priority float64 `json:"priority"`
	ID       string  `json:"id"`
}

func (p *queuePosition) valid() bool { return !p.AsOf.IsZero() && p.ID != "" && storable(p.ID) }

// FindQueue implements review.Reader. What somebody holds at AsOf stays in the list, with HeldBy and HeldUntil.
func (db *DB) FindQueue(ctx context.Context, f review.QueueFilter, page review.Page) ([]review.QueueLine, string, error) {
	if err := checkSize(page); err != nil {
		return nil, "", err
	}
	if err := checkFilter("not_of", f.NotOf, "group", f.Group, "family", f.Family, "trip", f.Trip, "drawer", f.Drawer); err != nil {
		return nil, "", err
	}
	after := queuePosition{AsOf: instantOf(f.AsOf)}
	if page.Cursor != "" {
		after = queuePosition{}
		if err := decodeCursor(page.Cursor, &after); err != nil {
			return nil, "", err
		}
	}
	query := db.read(ctx).Table("(?) AS q", db.waiting(ctx, f, after.AsOf.Time))
	if page.Cursor != "" {
		query = query.Where("q.priority < ? OR (q.priority = ? AND q.id > ?)", after.Priority, after.Priority, after.ID)
	}
	var rows []queueRow
	if err := query.Order("q.priority DESC, q.id").Limit(page.Size + 1).Scan(&rows).Error; err != nil {
		return nil, "", fmt.Errorf("list the queue: %w", err)
	}
	next := ""
	if len(rows) > page.Size {
		rows = rows[:page.Size]
		last := rows[page.Size-1]
		var err error
		if next, err = encodeCursor(queuePosition{AsOf: after.AsOf, Priority: last.Priority, ID: last.Line.ID}); err != nil {
			return nil, "", err
		}
	}
	lines := []review.QueueLine{}
	for _, row := range rows {
		lines = append(lines, row.fromRow(f.AsOf))
	}
	return lines, next, nil
}

// waiting are the open submissions that a filter lets through, with their priority at a time.
func (db *DB) waiting(ctx context.Context, f review.QueueFilter, asOf time.Time) *gorm.DB {
	now, scale := unixSeconds(asOf), (review.AgeScaleDays * 24 * time.Hour).Seconds()
	query := db.lines(ctx).Select(lineColumns+", s.gain, "+priority+" AS priority", now, scale, now, scale).
		Where("s.status = 'open'")
	query = narrow(query, "s.owner <> ?", f.NotOf)
	query = narrow(query, "s.group_id = ?", f.Group)
	query = narrow(query, "s.family = ?", f.Family)
	query = narrow(query, "sp.trip = ?", f.Trip)
	return narrow(query, "sp.storage_place = ?", f.Drawer)
}

func (r queueRow) fromRow(asOf time.Time) review.QueueLine {
	line := r.Line.fromRow()
	if r.Line.HoldUntil == nil || !r.Line.HoldUntil.After(asOf) {
		line.HeldBy, line.HeldUntil = "", nil
	}
	return review.QueueLine{SubmissionLine: line, Gain: r.Gain, Priority: r.Priority}
}

package models

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"gorm.io/gorm"

	"revidit/review"
	"revidit/review/service"
)

// queueRow is a submission in the queue.
type queueRow struct {
	Line       lineRow `gorm:"embedded"`
	QueuedUnix float64
	LookGain   float64
	LookRegion string
	Priority   float64
}

// priority is max(gain, age): gain in bits, age in units of review.AgeScaleDays. Written with CASE because the function
// for it has another name in each database. Parameters: asOf, scale, asOf, scale, in seconds.
const (
	age      = "(CAST(? AS double precision) - w.queued_unix) / CAST(? AS double precision)"
	priority = "CASE WHEN w.look_gain >= " + age + " THEN w.look_gain ELSE " + age + " END"
)

// lookGain is what one look by the viewer tells. What was stored before there were gains by region has one for the whole
// specimen, and a recheck has none.
const lookGain = "CASE WHEN s.recheck_open THEN CAST(0 AS double precision) ELSE COALESCE(best.weighed, s.gain) END"

// queuePosition is where a page of FindQueue has ended. It carries the time and the weights of the first page, so that
// all pages are cut from one order.
type queuePosition struct {
	AsOf     instant            `json:"as_of"`
	Weights  map[string]float64 `json:"weights,omitempty"`
	Priority float64            `json:"priority"`
	ID       string             `json:"id"`
}

func (p *queuePosition) valid() bool {
	for region, weight := range p.Weights {
		if !storable(region) || !validWeight(weight) {
			return false
		}
	}
	return len(p.Weights) <= maxWeights && !p.AsOf.IsZero() && p.ID != "" && storable(p.ID)
}

// maxWeights is more than there are regions of a body.
const maxWeights = 100

func validWeight(w float64) bool { return w >= 0 && !math.IsInf(w, 1) }

// FindQueue implements review.Reader. What somebody holds at AsOf stays in the list, with HeldBy and HeldUntil. Weights
// of a cursor take the place of those of the filter.
func (db *DB) FindQueue(ctx context.Context, f service.QueueFilter, page service.Page) ([]service.QueueLine, string, error) {
	if err := checkSize(page); err != nil {
		return nil, "", err
	}
	if err := checkQueueFilter(f); err != nil {
		return nil, "", err
	}
	after := queuePosition{AsOf: instantOf(f.AsOf), Weights: telling(f.Weights)}
	if page.Cursor != "" {
		after = queuePosition{}
		if err := decodeCursor(page.Cursor, &after); err != nil {
			return nil, "", err
		}
	}
	query := db.read(ctx).Table("(?) AS q", db.inOrder(ctx, f, after))
	if page.Cursor != "" {
		query = query.Where("q.priority < ? OR (q.priority = ? AND q.id > ?)", after.Priority, after.Priority, after.ID)
	}
	query = query.Order("q.priority DESC, q.id").Limit(page.Size + 1)
	var rows []queueRow
	if err := db.withRegions(ctx, query, after.Weights).Scan(&rows).Error; err != nil {
		return nil, "", fmt.Errorf("list the queue: %w", err)
	}
	next := ""
	if len(rows) > page.Size {
		rows = rows[:page.Size]
		last := rows[page.Size-1]
		var err error
		if next, err = encodeCursor(queuePosition{AsOf: after.AsOf, Weights: after.Weights, Priority: last.Priority, ID: last.Line.ID}); err != nil {
			return nil, "", err
		}
	}
	lines := []service.QueueLine{}
	for _, row := range rows {
		lines = append(lines, row.fromRow(f.AsOf))
	}
	return lines, next, nil
}

func checkQueueFilter(f service.QueueFilter) error {
	err := checkFilter("viewer", f.Viewer, "group", f.Group, "family", f.Family, "trip", f.Trip, "drawer", f.Drawer)
	if err != nil {
		return err
	}
	if len(f.Weights) > maxWeights {
		return review.Invalidf("weights", "at most %d regions", maxWeights)
	}
	for region, weight := range f.Weights {
		if !storable(region) || !validWeight(weight) {
			return review.Invalidf("weights", "%q has a weight of %v; it must be a number from 0", region, weight)
		}
	}
	return nil
}

// telling leaves out weights that change nothing, which keeps cursors short.
func telling(weights map[string]float64) map[string]float64 {
	weights = maps.Clone(weights)
	maps.DeleteFunc(weights, func(_ string, weight float64) bool { return weight == 1 })
	return weights
}

// inOrder is what waits, with its priority at the time and with the weights of a position.
func (db *DB) inOrder(ctx context.Context, f service.QueueFilter, p queuePosition) *gorm.DB {
	now, scale := unixSeconds(p.AsOf.Time), (review.AgeScaleDays * 24 * time.Hour).Seconds()
	return db.read(ctx).Table("(?) AS w", db.waiting(ctx, f, p.Weights)).
		Select("w.*, "+priority+" AS priority", now, scale, now, scale)
}

// waiting is what waits and a filter lets through, with what a look tells.
func (db *DB) waiting(ctx context.Context, f service.QueueFilter, weights map[string]float64) *gorm.DB {
	query := db.lines(ctx).
		Joins("LEFT JOIN (?) AS best ON best.submission_id = s.id", db.largest(ctx, weights)).
		Select(lineColumns + ", s.queued_unix, " + lookGain + " AS look_gain").
		Where("s.queued_unix IS NOT NULL")
	if f.Viewer != "" {
		query = query.Where("s.owner <> ? AND s.determiner <> ?", f.Viewer, f.Viewer)
	}
	query = rechecks(query, f)
	query = narrow(query, "s.group_id = ?", f.Group)
	query = narrow(query, "s.family = ?", f.Family)
	query = narrow(query, "sp.trip = ?", f.Trip)
	return narrow(query, "sp.storage_place = ?", f.Drawer)
}

// rechecks lets those through that the viewer may be asked about: who knows a specimen by another submission cannot look
// at it blind either. Written with replace because LIKE heeds no case in SQLite.
func rechecks(query *gorm.DB, f service.QueueFilter) *gorm.DB {
	if !f.Rechecks || f.Family != "" {
		return query.Where("NOT s.recheck_open")
	}
	return narrow(query, "(NOT s.recheck_open OR NOT EXISTS (SELECT 1 FROM submissions AS o WHERE o.specimen_id = s.specimen_id "+
		"AND o.opened_at IS NOT NULL AND replace(o.known_to, ?, '') <> o.known_to))", spaced(f.Viewer))
}

// largest is the largest gain of each submission, each times the weight of its region.
func (db *DB) largest(ctx context.Context, weights map[string]float64) *gorm.DB {
	weighed, args := weighedGain(weights)
	return db.read(ctx).Table("submission_gains AS g").Select("g.submission_id, max("+weighed+") AS weighed", args...).Group("g.submission_id")
}

// withRegions adds to the lines of a page the region that has the largest gain, the first of equal ones. It is looked for
// last, because it is wanted of few.
func (db *DB) withRegions(ctx context.Context, page *gorm.DB, weights map[string]float64) *gorm.DB {
	weighed, args := weighedGain(weights)
	region := "SELECT g.region FROM submission_gains AS g WHERE g.submission_id = page.id AND " + weighed + " > 0 ORDER BY " + weighed + " DESC, g.place LIMIT 1"
	return db.read(ctx).Table("(?) AS page", page).
		Select("page.*, COALESCE(("+region+"), '') AS look_region", append(args, args...)...).Order("page.priority DESC, page.id")
}

// weighedGain is the gain of a row g times the weight of its region, in SQL, with the parameters.
func weighedGain(weights map[string]float64) (string, []any) {
	if len(weights) == 0 {
		return "g.gain", nil
	}
	args := []any{}
	weight := "CASE g.region"
	for _, region := range slices.Sorted(maps.Keys(weights)) {
		weight += " WHEN ? THEN CAST(? AS double precision)"
		args = append(args, region, weights[region])
	}
	return "(g.gain * " + weight + " ELSE 1 END)", args
}

func (r queueRow) fromRow(asOf time.Time) service.QueueLine {
	line := r.Line.fromRow()
	if r.Line.HoldUntil == nil || !r.Line.HoldUntil.After(asOf) {
		line.HeldBy, line.HeldUntil = "", nil
	}
	return service.QueueLine{SubmissionLine: line, Gain: r.LookGain, Region: r.LookRegion, Recheck: r.Line.RecheckOpen,
		WaitsSince: timeOfUnix(r.QueuedUnix), Priority: r.Priority}
}

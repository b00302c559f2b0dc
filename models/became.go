package models

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"revidit/review"
	"revidit/review/service"
)

// turning is written as in the index events_turns, so that the index serves.
const turning = "kind IN ('submitted', 'confirmed', 'redetermined', 'undetermined', 'withdrawn', 'reopened')"

// turningOfStream is turning where streams are named: no index is to be taken by it, since SQLite would rather go through everything that
// ever came about than through the events of a page of streams.
var turningOfStream = strings.Replace(turning, "kind", "kind || ''", 1)

// turnPosition is where a page of FindTurns has ended.
type turnPosition struct {
	At     instant `json:"at"`
	Stream string  `json:"stream"`
	Seq    int     `json:"seq"`
}

func (p *turnPosition) valid() bool { return !p.At.IsZero() && storable(p.Stream) }

// turnsOfKind are those of one kind in a period, of whatever submission.
func (db *DB) turnsOfKind(ctx context.Context, kind string, period review.Period) *gorm.DB {
	query := db.read(ctx).Model(&eventRow{}).Where("kind = ? AND "+turning, kind)
	if !period.From.IsZero() {
		query = query.Where("at >= ?", instantOf(period.From))
	}
	if !period.Until.IsZero() {
		query = query.Where("at < ?", instantOf(period.Until))
	}
	return query
}

// FindTurns implements service.Reader. Each kind is read by itself, in the order of the index.
func (db *DB) FindTurns(ctx context.Context, kinds []string, period review.Period, page service.Page) ([]service.Turn, string, error) {
	if err := checkSize(page); err != nil {
		return nil, "", err
	}
	var after *turnPosition
	if page.Cursor != "" {
		after = &turnPosition{}
		if err := decodeCursor(page.Cursor, after); err != nil {
			return nil, "", err
		}
	}
	var rows []eventRow
	for _, kind := range kinds {
		query := db.turnsOfKind(ctx, kind, period).Select("stream", "seq", "at", "kind")
		if after != nil {
			query = query.Where("(at, stream, seq) < (?, ?, ?)", after.At, after.Stream, after.Seq)
		}
		var of []eventRow
		if err := query.Order("at DESC, stream DESC, seq DESC").Limit(page.Size + 1).Find(&of).Error; err != nil {
			return nil, "", fmt.Errorf("list what came about: %w", err)
		}
		rows = append(rows, of...)
	}
	slices.SortFunc(rows, func(a, b eventRow) int {
		return cmp.Or(b.At.Compare(a.At.Time), strings.Compare(b.Stream, a.Stream), cmp.Compare(b.Seq, a.Seq))
	})
	if len(rows) <= page.Size {
		return toTurns(rows), "", nil
	}
	rows = rows[:page.Size]
	last := rows[page.Size-1]
	next, err := encodeCursor(turnPosition{At: last.At, Stream: last.Stream, Seq: last.Seq})
	return toTurns(rows), next, err
}

func toTurns(rows []eventRow) []service.Turn {
	found := make([]service.Turn, 0, len(rows))
	for _, r := range rows {
		found = append(found, service.Turn{Submission: strings.TrimPrefix(r.Stream, review.SubmissionStream("")), Seq: r.Seq, Kind: r.Kind, At: r.At.Time})
	}
	return found
}

// CountTurns implements service.Reader.
func (db *DB) CountTurns(ctx context.Context, kinds []string, period review.Period, most int) (int, error) {
	n := 0
	for _, kind := range kinds {
		var of int64
		counted := db.turnsOfKind(ctx, kind, period).Select("1 AS one").Order("at").Limit(most)
		if err := db.read(ctx).Table("(?) AS counted", counted).Count(&of).Error; err != nil {
			return 0, fmt.Errorf("count what came about: %w", err)
		}
		n = min(n+int(of), most)
	}
	return n, nil
}

// TurnsOf implements service.Reader.
func (db *DB) TurnsOf(ctx context.Context, submissions []string) (map[string][]service.Turn, error) {
	var streams []string
	for _, id := range storableIDs(submissions) {
		streams = append(streams, review.SubmissionStream(id))
	}
	found := map[string][]service.Turn{}
	if len(streams) == 0 {
		return found, nil
	}
	var rows []eventRow
	err := db.read(ctx).Select("stream", "seq", "at", "kind").Where("stream IN ? AND "+turningOfStream, streams).Order("stream, seq").Find(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("read what became of submissions: %w", err)
	}
	for _, t := range toTurns(rows) {
		found[t.Submission] = append(found[t.Submission], t)
	}
	return found, nil
}

// CountOfPerson implements service.Reader. Each count is of an index in the order of a list.
func (db *DB) CountOfPerson(ctx context.Context, person string, most int) (n service.PersonCount, err error) {
	if !storable(person) {
		return n, nil
	}
	said := func(which string) *gorm.DB {
		return db.read(ctx).Model(&saidRow{}).Select("1 AS one").Where("person = ? AND "+which, person).Order("changed_at").Limit(most)
	}
	determined := db.read(ctx).Model(&submissionRow{}).Select("1 AS one").Where("determiner = ? AND opened_at IS NOT NULL", person).Order("changed_at").Limit(most)
	err = db.read(ctx).Raw("SELECT (SELECT count(*) FROM (?) AS one) AS determined, (SELECT count(*) FROM (?) AS two) AS confirmed, "+
		"(SELECT count(*) FROM (?) AS three) AS disputed, (SELECT count(*) FROM (?) AS four) AS agrees, (SELECT count(*) FROM (?) AS five) AS another",
		determined, said("confirmed > 0"), said("disputed > 0"), said("opinion = 'agrees'"), said("opinion = 'another'")).Scan(&n).Error
	if err != nil {
		return n, fmt.Errorf("count what a person has said: %w", err)
	}
	return n, nil
}

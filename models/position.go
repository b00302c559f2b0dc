package models

import (
	"context"
	"fmt"
	"slices"
	"sort"
	"time"

	"gorm.io/gorm"

	"revidit/migrations"
	"revidit/review"
	"revidit/review/service"
)

// positionRow is a row of event_positions: the place of an event among all. The database gives it (migration positions);
// rows are made here by Fill alone.
type positionRow struct {
	Position int64 `gorm:"primaryKey;autoIncrement:false"`
	Stream   string
	Seq      int
}

func (positionRow) TableName() string { return "event_positions" }

// EventsAfter lists events in the order of their positions, at most so many behind one. What has no position yet comes in
// none of its pages before it has one, so that whoever goes on from the last position reads each event once.
func (db *DB) EventsAfter(ctx context.Context, position int64, most int) ([]review.Placed, error) {
	var rows []placedRow
	err := db.read(ctx).Table("event_positions AS p").Select("p.position, e.*").Joins("JOIN events AS e ON e.stream = p.stream AND e.seq = p.seq").
		Where("p.position > ?", position).Order("p.position").Limit(most).Scan(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("read events in order: %w", err)
	}
	return fromRows(rows, placedRow.fromRow)
}

// LastPosition implements service.Reader.
func (db *DB) LastPosition(ctx context.Context) (last int64, err error) {
	if err := db.read(ctx).Raw("SELECT COALESCE(max(position), 0) FROM event_positions").Scan(&last).Error; err != nil {
		return 0, fmt.Errorf("read the last position: %w", err)
	}
	return last, nil
}

// HeadsAfter implements service.Reader.
func (db *DB) HeadsAfter(ctx context.Context, position int64, most int) (heads []service.EventHead, err error) {
	err = db.read(ctx).Table("event_positions AS p").Select("p.position, e.stream, e.kind, e.actor").Joins("JOIN events AS e ON e.stream = p.stream AND e.seq = p.seq").
		Where("p.position > ?", position).Order("p.position").Limit(most).Scan(&heads).Error
	if err != nil {
		return nil, fmt.Errorf("read events in order: %w", err)
	}
	return heads, nil
}

// History implements service.Reader. What has no position yet is the latest.
func (db *DB) History(ctx context.Context, streams ...string) ([]review.Placed, error) {
	var rows []placedRow
	err := db.read(ctx).Table("events").Select("COALESCE(p.position, 0) AS position, events.*").Joins("LEFT JOIN event_positions AS p ON p.stream = events.stream AND p.seq = events.seq").
		Where("events.stream IN ?", storableIDs(streams)).Order("p.position IS NULL, p.position, events.at, events.stream, events.seq").Scan(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("read a history: %w", err)
	}
	return fromRows(rows, placedRow.fromRow)
}

// placedRow is an event with its position, 0 where it has none yet.
type placedRow struct {
	Position int64
	Event    eventRow `gorm:"embedded"`
}

func (r placedRow) fromRow() (review.Placed, error) {
	event, err := r.Event.fromRow()
	return review.Placed{Position: r.Position, Event: event}, err
}

// SeqAt implements service.Reader. Positions grow within a stream, so that halving finds it whatever its length.
func (db *DB) SeqAt(ctx context.Context, stream string, position int64) (seq int, err error) {
	if !storable(stream) {
		return 0, nil
	}
	var last int
	if err := db.read(ctx).Raw("SELECT COALESCE(max(seq), 0) FROM event_positions WHERE stream = ?", stream).Scan(&last).Error; err != nil {
		return 0, fmt.Errorf("read the length of %s: %w", stream, err)
	}
	after := sort.Search(last, func(i int) bool {
		var at int64
		if err == nil {
			err = db.read(ctx).Raw("SELECT position FROM event_positions WHERE stream = ? AND seq = ?", stream, i+1).Scan(&at).Error
		}
		return at > position
	})
	if err != nil {
		return 0, fmt.Errorf("read where %s stood at %d: %w", stream, position, err)
	}
	return after, nil
}

// PositionBefore implements service.Reader.
func (db *DB) PositionBefore(ctx context.Context, at time.Time) (position int64, err error) {
	last, err := db.LastPosition(ctx)
	if err != nil {
		return 0, err
	}
	before := sort.Search(int(last), func(i int) bool {
		var found struct{ At instant }
		if err == nil {
			err = db.read(ctx).Raw("SELECT e.at FROM event_positions AS p JOIN events AS e ON e.stream = p.stream AND e.seq = p.seq WHERE p.position = ?", i+1).Scan(&found).Error
		}
		return !found.At.Before(at)
	})
	if err != nil {
		return 0, fmt.Errorf("read which event was the last before %s: %w", at, err)
	}
	return int64(before), nil
}

// placed gives the events of a filling, which are sorted, the positions behind one, in the order of time.
func placed(rows []eventRow, behind int64) []positionRow {
	sorted := slices.Clone(rows)
	for i := 1; i < len(sorted); i++ { // a clock that was set back does not turn a stream round
		if before := sorted[i-1]; before.Stream == sorted[i].Stream && before.At.After(sorted[i].At.Time) {
			sorted[i].At = before.At
		}
	}
	slices.SortStableFunc(sorted, func(a, b eventRow) int { return a.At.Compare(b.At.Time) })
	positions := make([]positionRow, len(sorted))
	for i, r := range sorted {
		positions[i] = positionRow{Position: behind + int64(i) + 1, Stream: r.Stream, Seq: r.Seq}
	}
	return positions
}

// placeLost gives a position to events that have lost theirs because somebody stored them past the triggers: from a
// backup, perhaps. Rebuild calls it, alone with the events.
func (db *DB) placeLost(tx *gorm.DB) error {
	const lost = "FROM events AS e WHERE NOT EXISTS (SELECT 1 FROM event_positions AS p WHERE p.stream = e.stream AND p.seq = e.seq)"
	statement := "INSERT INTO event_positions (stream, seq) SELECT e.stream, e.seq " + lost + " ORDER BY e.at, e.stream, e.seq"
	if db.dialect == migrations.Postgres {
		statement = "INSERT INTO event_outbox (stream, seq) SELECT e.stream, e.seq " + lost +
			" AND NOT EXISTS (SELECT 1 FROM event_outbox AS o WHERE o.stream = e.stream AND o.seq = e.seq)"
	}
	if err := tx.Exec(statement).Error; err != nil {
		return fmt.Errorf("let events without a position have one: %w", err)
	}
	return nil
}

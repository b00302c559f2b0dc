package models

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"revidit/review"
)

// eventRow is a row of events. Data is never parsed by the database, so that it comes back as it was encoded.
type eventRow struct {
	Stream string `gorm:"primaryKey"`
	Seq    int    `gorm:"primaryKey;autoIncrement:false"`
	At     instant
	Actor  string
	Role   review.Role
	Kind   string
	Data   string
}

func (eventRow) TableName() string { return "events" }

// changeEncoder is review.EncodeChange, or remembers what that has returned.
type changeEncoder func(review.Change) (kind, data string, err error)

func toEventRow(e review.Event, encode changeEncoder) (eventRow, error) {
	kind, data, err := encode(e.Change)
	if err != nil {
		return eventRow{}, err
	}
	return eventRow{Stream: e.Stream, Seq: e.Seq, At: instantOf(e.At), Actor: e.Actor, Role: e.Role, Kind: kind, Data: data}, nil
}

func (r eventRow) fromRow() (review.Event, error) {
	change, err := review.DecodeChange(r.Kind, r.Data)
	if err != nil {
		return review.Event{}, fmt.Errorf("event %d of %s: %w", r.Seq, r.Stream, err)
	}
	return review.Event{Stream: r.Stream, Seq: r.Seq, At: r.At.Time, Actor: r.Actor, Role: r.Role, Change: change}, nil
}

// eventRows are sorted: two acts that touch the same streams then lock them in the same order and cannot wait for each
// other, and each event follows its predecessor.
func eventRows(events []review.Event, encode changeEncoder) ([]eventRow, error) {
	rows, err := toRows(events, func(e review.Event) (eventRow, error) { return toEventRow(e, encode) })
	slices.SortStableFunc(rows, func(a, b eventRow) int {
		return cmp.Or(cmp.Compare(a.Stream, b.Stream), cmp.Compare(a.Seq, b.Seq))
	})
	return rows, err
}

// Events implements review.Reader.
func (db *DB) Events(ctx context.Context, stream string) ([]review.Event, error) {
	var rows []eventRow
	if err := byID(db.read(ctx), "stream", stream).Order("seq").Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read events: %w", err)
	}
	return fromRows(rows, eventRow.fromRow)
}

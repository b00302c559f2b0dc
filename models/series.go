package models

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"gorm.io/gorm"

	"revidit/review"
	"revidit/review/service"
)

// seriesRow is a row of series.
type seriesRow struct {
	ID        string `gorm:"primaryKey"`
	Seq       int
	Member    string
	Mentor    string
	Status    review.SeriesStatus
	BegunAt   instant
	ChangedAt instant
	Body      string
}

func (seriesRow) TableName() string { return "series" }

func toSeriesRow(s review.Series) (seriesRow, error) {
	body, err := json.Marshal(s)
	if err != nil {
		return seriesRow{}, fmt.Errorf("encode series %s: %w", s.ID, err)
	}
	return seriesRow{ID: s.ID, Seq: s.Seq, Member: s.Member, Mentor: s.Mentor, Status: s.Status, BegunAt: instantOf(s.BegunAt),
		ChangedAt: instantOf(s.ChangedAt), Body: string(body)}, nil
}

func (r seriesRow) fromRow() (s review.Series, err error) {
	err = json.Unmarshal([]byte(r.Body), &s)
	if err == nil && s.ID != r.ID {
		err = fmt.Errorf("it is that of %q", s.ID)
	}
	if err != nil {
		return review.Series{}, unreadable("series", r.ID, err)
	}
	return s, nil
}

// Series implements service.Reader.
func (db *DB) Series(ctx context.Context, id string) (s review.Series, n review.SeriesCount, err error) {
	row, err := find[seriesRow](byID(db.read(ctx), "id", id), "There is no series %s.", id)
	if err != nil {
		return s, n, err
	}
	var counted struct{ Total, Waiting int }
	err = db.read(ctx).Raw("SELECT count(*) AS total, COALESCE(sum(CASE WHEN status IN ('open', 'returned') THEN 1 ELSE 0 END), 0) AS waiting "+
		"FROM submissions WHERE series = ? AND series <> ''", id).Scan(&counted).Error
	if err != nil {
		return s, n, fmt.Errorf("count the submissions of a series: %w", err)
	}
	s, err = row.fromRow()
	return s, review.SeriesCount{All: counted.Total, Waiting: counted.Waiting}, err
}

// seriesListed is how many of a person's series are listed.
const seriesListed = 50

// SeriesOf implements service.Reader.
func (db *DB) SeriesOf(ctx context.Context, person string) ([]review.Series, error) {
	if !storable(person) || person == "" {
		return []review.Series{}, nil
	}
	var rows []seriesRow
	const of = "SELECT * FROM (SELECT * FROM series WHERE %s = ? ORDER BY changed_at DESC, id DESC LIMIT ?) AS %[1]s_of"
	err := db.read(ctx).Raw("SELECT * FROM ("+fmt.Sprintf(of, "member")+" UNION ALL "+fmt.Sprintf(of, "mentor")+") AS found ORDER BY changed_at DESC, id DESC LIMIT ?",
		person, seriesListed, person, seriesListed, seriesListed).Scan(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("list somebody's series: %w", err)
	}
	return fromRows(rows, seriesRow.fromRow)
}

// WaitingSeries implements service.Reader.
func (db *DB) WaitingSeries(ctx context.Context, most int) ([]review.Series, error) {
	var rows []seriesRow
	if err := db.read(ctx).Where("status = 'waiting'").Order("begun_at, id").Limit(most).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("list series that wait for a mentor: %w", err)
	}
	return fromRows(rows, seriesRow.fromRow)
}

// SubmittedBy implements service.Reader.
func (db *DB) SubmittedBy(ctx context.Context, person string, most int) (n int, err error) {
	if !storable(person) {
		return 0, nil
	}
	err = db.read(ctx).Raw("SELECT count(*) FROM (SELECT 1 AS one FROM submissions WHERE owner = ? AND opened_at IS NOT NULL ORDER BY changed_at LIMIT ?) AS counted", person, most).Scan(&n).Error
	if err != nil {
		return 0, fmt.Errorf("count what somebody has submitted: %w", err)
	}
	return n, nil
}

// LateSeries implements service.Reader.
func (db *DB) LateSeries(ctx context.Context, before time.Time, most int) ([]service.LateAnswer, error) {
	var rows []struct {
		ID, Mentor string
		OpenedAt   instant
	}
	err := db.read(ctx).Raw("SELECT w.id, r.mentor, w.opened_at FROM (SELECT id, series, opened_at FROM submissions "+
		"WHERE series <> '' AND status = 'open' AND opened_at < ? ORDER BY opened_at, id LIMIT ?) AS w JOIN series AS r ON r.id = w.series ORDER BY w.opened_at, w.id",
		instantOf(before), most).Scan(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("list what waits for mentors: %w", err)
	}
	late := []service.LateAnswer{}
	for _, r := range rows {
		late = append(late, service.LateAnswer{Mentor: r.Mentor, Submission: r.ID, Since: r.OpenedAt.Time})
	}
	return late, nil
}

func rebuildSeries(tx *gorm.DB, streams [][]review.Event) error {
	series, err := toRows(streams, review.ReplaySeries)
	if err != nil {
		return err
	}
	rows, err := toRows(series, toSeriesRow)
	if err != nil {
		return err
	}
	return replace(tx, "series", rows)
}

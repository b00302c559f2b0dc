package models

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/review"
	"revidit/review/service"
)

// closingRow is a row of closings: what an act left that closed a specimen or completed a panel. Later acts never change it.
type closingRow struct {
	GroupID string              `gorm:"primaryKey"`
	Kind    service.ClosingKind `gorm:"primaryKey"`
	At      instant             `gorm:"primaryKey"`
	Subject string              `gorm:"primaryKey"`
	Body    string
}

func (closingRow) TableName() string { return "closings" }

// closingOf is the row of a testimony that is of a closed specimen.
func closingOf(t testimonyRow) closingRow {
	return closingRow{GroupID: t.GroupID, Kind: service.ClosedTestimony, At: *t.ClosedAt, Subject: t.SpecimenID, Body: t.Body}
}

// toPanelRow is that of a submission of which the panel was completed at a time.
func toPanelRow(s *review.Submission, at time.Time) (closingRow, error) {
	body, err := json.Marshal(s.Recheck)
	if err != nil {
		return closingRow{}, fmt.Errorf("encode the recheck of submission %s: %w", s.ID, err)
	}
	return closingRow{GroupID: s.Group, Kind: service.ClosedPanel, At: instantOf(at), Subject: s.ID, Body: string(body)}, nil
}

// panelsOf are the panels that a batch completes, but for those of records that come whole.
func panelsOf(batch review.Batch, whole map[string]*record) (rows []closingRow, err error) {
	given := map[string]time.Time{}
	for _, e := range batch.Events {
		if _, ok := e.Change.(*review.PanelOpinionGiven); ok {
			given[e.Stream] = e.At
		}
	}
	for i := range batch.Submissions {
		s := &batch.Submissions[i]
		at, ok := given[review.SubmissionStream(s.ID)]
		if !ok || whole[s.Specimen] != nil || s.Recheck == nil || !s.Recheck.Complete() {
			continue
		}
		row, err := toPanelRow(s, at)
		if err != nil {
			return nil, err
		}
		rows = append(rows, row)
	}
	return rows, nil
}

// storeClosings adds rows; of acts of one and the same instant, as when the clock was set back, what the last of them left stands.
func storeClosings(tx *gorm.DB, rows []closingRow) error {
	same := clause.OnConflict{Columns: []clause.Column{{Name: "group_id"}, {Name: "kind"}, {Name: "at"}, {Name: "subject"}}, UpdateAll: true}
	return insert(tx.Clauses(same), "what was closed", rows)
}

// withdrawClosings takes back rows of the very instant at which specimens are open again.
func withdrawClosings(tx *gorm.DB, specimens []string, at map[string]instant) error {
	for _, id := range specimens {
		gone := tx.Where("kind = ? AND at = ? AND subject = ?", service.ClosedTestimony, at[id], id).Delete(&closingRow{})
		if gone.Error != nil {
			return fmt.Errorf("take back what was closed: %w", gone.Error)
		}
	}
	return nil
}

// closingRows are those of a whole record: of each time at which an act left the specimen closed, and of its panels.
func (r *record) closingRows() (rows []closingRow, err error) {
	for _, at := range r.times(closes) {
		then, err := r.until(at)
		if err != nil || then == nil {
			return nil, err
		}
		closed, ok := review.ClosedOf(then.specimen, then.submissions)
		if !ok || !closed.At().Equal(at) {
			continue
		}
		made, err := toTestimonyRows(closed)
		if err != nil {
			return nil, err
		}
		for _, t := range made {
			rows = append(rows, closingOf(t))
		}
	}
	panels, err := r.panelRows()
	return append(rows, panels...), err
}

func (r *record) panelRows() (rows []closingRow, err error) {
	answers := func(c review.Change) bool { _, ok := c.(*review.PanelOpinionGiven); return ok }
	for _, at := range r.times(answers) {
		then, err := r.until(at)
		if err != nil || then == nil {
			return nil, err
		}
		for i := range then.submissions {
			s := &then.submissions[i]
			if s.Recheck == nil || !s.Recheck.Complete() || !r.answered(s.ID, at, answers) {
				continue
			}
			row, err := toPanelRow(s, at)
			if err != nil {
				return nil, err
			}
			rows = append(rows, row)
		}
	}
	return rows, nil
}

func (r *record) answered(submission string, at time.Time, answers func(review.Change) bool) bool {
	return slices.ContainsFunc(r.events, func(e review.Event) bool {
		return e.Stream == review.SubmissionStream(submission) && e.At.Equal(at) && answers(e.Change)
	})
}

func closes(c review.Change) bool {
	switch c.(type) {
	case *review.Confirmed, *review.Redetermined, *review.Undetermined, *review.Withdrawn:
		return true
	}
	return false
}

// times are when changes of a kind were made, each once, the first first.
func (r *record) times(of func(review.Change) bool) []time.Time {
	var times []time.Time
	for _, e := range r.events {
		if of(e.Change) {
			times = append(times, e.At)
		}
	}
	slices.SortFunc(times, time.Time.Compare)
	return slices.CompactFunc(times, time.Time.Equal)
}

// rebuildClosings makes all rows again from the events alone.
func rebuildClosings(tx *gorm.DB) error {
	return eachReviewed(tx, func(ids []string) error {
		records, err := recordsOf(tx, ids)
		if err != nil {
			return err
		}
		for _, r := range records {
			rows, err := r.closingRows()
			if err != nil {
				return err
			}
			if err := storeClosings(tx, rows); err != nil {
				return err
			}
		}
		return nil
	})
}

// recordsOf are some specimens with their submissions and all events.
func recordsOf(tx *gorm.DB, specimens []string) (map[string]*record, error) {
	var submissions []submissionRow
	if err := tx.Select("id", "specimen_id").Where("specimen_id IN ?", specimens).Order("drafted_at, id").Find(&submissions).Error; err != nil {
		return nil, fmt.Errorf("list submissions of specimens: %w", err)
	}
	records, of := map[string]*record{}, map[string]*record{}
	var streams []string
	for _, id := range specimens {
		records[id] = &record{specimen: &review.Specimen{ID: id}}
		of[review.SpecimenStream(id)] = records[id]
		streams = append(streams, review.SpecimenStream(id))
	}
	for _, s := range submissions {
		r := records[s.SpecimenID]
		r.submissions = append(r.submissions, review.Submission{ID: s.ID})
		of[review.SubmissionStream(s.ID)] = r
		streams = append(streams, review.SubmissionStream(s.ID))
	}
	for some := range slices.Chunk(streams, streamsAtOnce) {
		found, err := eventsOf(tx, some)
		if err != nil {
			return nil, err
		}
		for _, events := range found {
			r := of[events[0].Stream]
			r.events = append(r.events, events...)
		}
	}
	return records, nil
}

// completeClosings makes the rows of what was closed before there were any.
func (db *DB) completeClosings(ctx context.Context) error {
	var lacking bool
	const asked = "SELECT NOT EXISTS (SELECT 1 FROM closings) AND EXISTS (SELECT 1 FROM testimonies WHERE closed_at IS NOT NULL)"
	if err := db.read(ctx).Raw(asked).Scan(&lacking).Error; err != nil || !lacking {
		return err
	}
	return db.write(service.Unhurried(ctx), rebuildClosings)
}

// FindClosings implements service.Reader.
func (db *DB) FindClosings(ctx context.Context, f service.ClosingFilter, page service.Page) ([]service.Closing, string, error) {
	query := byID(db.read(ctx), "group_id", f.Group).Where("kind = ?", f.Kind).Limit(page.Size)
	if !f.From.IsZero() {
		query = query.Where("at >= ?", instantOf(f.From))
	}
	if !f.Until.IsZero() {
		query = query.Where("at < ?", instantOf(f.Until))
	}
	if page.Cursor != "" {
		at, subject, err := testimonyPlace(page.Cursor)
		if err != nil {
			return nil, "", err
		}
		query = query.Where("(at, subject) < (?, ?)", at, subject)
	}
	var rows []closingRow
	if err := query.Order("at DESC, subject DESC").Find(&rows).Error; err != nil {
		return nil, "", fmt.Errorf("read what was closed: %w", err)
	}
	found, err := closingsRead(rows, f.Unread)
	if err != nil || len(rows) < page.Size {
		return found, "", err
	}
	last := rows[len(rows)-1]
	return found, last.At.Format(instantLayout) + " " + last.Subject, nil
}

func closingsRead(rows []closingRow, unread func(stream string)) ([]service.Closing, error) {
	found := make([]service.Closing, 0, len(rows))
	var left []unreadRow
	for _, r := range rows {
		c, stream := service.Closing{At: r.At.Time}, review.SpecimenStream(r.Subject)
		var err error
		if r.Kind == service.ClosedTestimony {
			c.Testimony, err = decodeTestimony(r.Subject, r.Body)
		} else {
			stream = review.SubmissionStream(r.Subject)
			c.Panel, err = decodePanel(r)
		}
		if err != nil {
			left = append(left, unreadRow{stream, err})
			continue
		}
		found = append(found, c)
	}
	return found, leaveOut(left, unread)
}

func decodePanel(r closingRow) (review.Submission, error) {
	s := review.Submission{ID: r.Subject, Group: r.GroupID, Status: review.StatusConfirmed}
	err := json.Unmarshal([]byte(r.Body), &s.Recheck)
	if err == nil && s.Recheck == nil {
		err = errors.New("there is none in it")
	}
	if err != nil {
		return s, unreadable("the recheck of submission", r.Subject, err)
	}
	return s, nil
}

// FewClosings implements service.Reader.
func (db *DB) FewClosings(ctx context.Context, f service.ClosingFilter, most int) (bool, error) {
	if !storable(f.Group) {
		return true, nil
	}
	var n int
	conditions, values := []string{"group_id = ?", "kind = ?"}, []any{f.Group, f.Kind}
	if !f.From.IsZero() {
		conditions, values = append(conditions, "at >= ?"), append(values, instantOf(f.From))
	}
	if !f.Until.IsZero() {
		conditions, values = append(conditions, "at < ?"), append(values, instantOf(f.Until))
	}
	const count = "SELECT COUNT(*) FROM (SELECT 1 FROM closings WHERE %s LIMIT ?) AS found"
	err := db.read(ctx).Raw(fmt.Sprintf(count, strings.Join(conditions, " AND ")), append(values, most+1)...).Scan(&n).Error
	if err != nil {
		return false, fmt.Errorf("count what was closed: %w", err)
	}
	return n <= most, nil
}

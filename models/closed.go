package models

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/review"
	"revidit/review/service"
)

// testimonyRow is a row of testimonies.
type testimonyRow struct {
	SpecimenID string `gorm:"primaryKey"`
	GroupID    string `gorm:"primaryKey"`
	ClosedAt   *instant
	Learnt     int // 1: the reliability in force has taken it in; 0: it waits for that
	Body       string
}

func (testimonyRow) TableName() string { return "testimonies" }

// toTestimonyRows are those of a closed specimen, one for each group.
func toTestimonyRows(c review.Closed) ([]testimonyRow, error) {
	body, err := encodeTestimony(c.Testimony())
	if err != nil {
		return nil, err
	}
	var rows []testimonyRow
	for _, group := range c.Groups() {
		at := instantOf(c.At())
		rows = append(rows, testimonyRow{SpecimenID: c.Specimen.ID, GroupID: group, ClosedAt: &at, Body: body})
	}
	return rows, nil
}

// closings are the specimens of which a batch changes whether they are closed, or what was said of them.
type closings struct {
	opened  []string           // a submission came before reviewers
	closed  []string           // a submission was closed
	changed []string           // an observation or the sex
	made    []testimonyRow     // of specimens that come whole, of which nothing has to be read
	rows    []closingRow       // of those, and of panels
	at      map[string]instant // by specimen: when the batch's last event of it and of its submissions was
}

func closingsOf(batch review.Batch) (c closings, err error) {
	whole := wholeRecords(batch)
	after := map[string]*review.Submission{} // by stream
	for i := range batch.Submissions {
		after[review.SubmissionStream(batch.Submissions[i].ID)] = &batch.Submissions[i]
	}
	c.at = map[string]instant{}
	for _, e := range batch.Events {
		id := specimenOf(e.Stream)
		if s := after[e.Stream]; s != nil {
			id = s.Specimen
		}
		if e.At.After(c.at[id].Time) {
			c.at[id] = instantOf(e.At)
		}
		switch e.Change.(type) {
		case *review.Submitted, *review.Reopened, *review.Confirmed, *review.Redetermined, *review.Undetermined, *review.Withdrawn:
			s := after[e.Stream]
			switch {
			case s == nil || whole[s.Specimen] != nil: // a store is given events alone only by those who make no rows
			case s.Closed():
				c.closed = append(c.closed, s.Specimen)
			default:
				c.opened = append(c.opened, s.Specimen)
			}
		case *review.ObservationsRecorded, *review.ObservationWithdrawn, *review.LabelCorrected:
			if whole[id] == nil {
				c.changed = append(c.changed, id)
			}
		}
	}
	for _, id := range slices.Sorted(maps.Keys(whole)) {
		rows, err := whole[id].testimonyRows()
		if err != nil {
			return c, err
		}
		c.made = append(c.made, rows...)
		written, err := whole[id].closingRows()
		if err != nil {
			return c, err
		}
		c.rows = append(c.rows, written...)
	}
	panels, err := panelsOf(batch, whole)
	c.rows = append(c.rows, panels...)
	return c, err
}

// store makes the rows of what is closed, after the submissions themselves were stored.
func (c closings) store(tx *gorm.DB) error {
	if len(c.opened) > 0 {
		if err := reopenTestimonies(tx, c.opened); err != nil {
			return err
		}
		if err := withdrawClosings(tx, c.opened, c.at); err != nil {
			return err
		}
	}
	again, err := withTestimony(tx, c.changed)
	if err != nil {
		return err
	}
	again = append(again, c.closed...)
	again = slices.DeleteFunc(again, func(id string) bool { return slices.Contains(c.opened, id) })
	slices.Sort(again)
	made, err := makeTestimonies(tx, slices.Compact(again))
	if err != nil {
		return err
	}
	for _, t := range made {
		if t.ClosedAt.Equal(c.at[t.SpecimenID].Time) { // what was closed before is a row of its own time
			c.rows = append(c.rows, closingOf(t))
		}
	}
	if err := storeTestimonies(tx, c.made); err != nil {
		return err
	}
	return storeClosings(tx, c.rows)
}

func reopenTestimonies(tx *gorm.DB, specimens []string) error {
	open := tx.Model(&testimonyRow{}).Where("specimen_id IN ? AND closed_at IS NOT NULL", specimens).Update("closed_at", nil)
	if open.Error != nil {
		return fmt.Errorf("note that specimens are open again: %w", open.Error)
	}
	return nil
}

// withTestimony leaves those that are closed.
func withTestimony(tx *gorm.DB, specimens []string) ([]string, error) {
	if len(specimens) == 0 {
		return nil, nil
	}
	var found []string
	err := tx.Model(&testimonyRow{}).Where("specimen_id IN ? AND closed_at IS NOT NULL", specimens).Pluck("specimen_id", &found).Error
	if err != nil {
		return nil, fmt.Errorf("find what was said of specimens: %w", err)
	}
	return found, nil
}

// makeTestimonies makes the rows of some specimens from the stored values; whether something was learnt from one stays.
func makeTestimonies(tx *gorm.DB, specimens []string) ([]testimonyRow, error) {
	if len(specimens) == 0 {
		return nil, nil
	}
	found, err := determinationsIn(tx, "", specimens)
	if err == nil {
		err = leaveOut(found.unread, nil)
	}
	if err != nil {
		return nil, err
	}
	return makeTestimoniesOf(tx, specimens, found)
}

func makeTestimoniesOf(tx *gorm.DB, specimens []string, found determinations) ([]testimonyRow, error) {
	var rows []testimonyRow
	var open []string
	for _, id := range specimens {
		spec := found.specimens[id]
		closed, ok := review.ClosedOf(&spec, found.of[id])
		if !ok {
			open = append(open, id)
			continue
		}
		made, err := toTestimonyRows(closed)
		if err != nil {
			return nil, err
		}
		rows = append(rows, made...)
	}
	if len(open) > 0 {
		if err := reopenTestimonies(tx, open); err != nil {
			return nil, err
		}
	}
	return rows, storeTestimonies(tx, rows)
}

func storeTestimonies(tx *gorm.DB, rows []testimonyRow) error {
	same := clause.OnConflict{Columns: []clause.Column{{Name: "specimen_id"}, {Name: "group_id"}}, DoUpdates: clause.AssignmentColumns([]string{"closed_at", "body"})}
	return insert(tx.Clauses(same), "what was said of specimens", rows)
}

// CompleteTestimonies implements service.Store.
func (db *DB) CompleteTestimonies(ctx context.Context) (made int, err error) {
	err = db.write(ctx, func(tx *gorm.DB) error {
		var ids []string
		find := tx.Model(&testimonyRow{}).Where("body = ''").Distinct("specimen_id").Order("specimen_id").Limit(determinationsAtOnce)
		if err := find.Pluck("specimen_id", &ids).Error; err != nil {
			return fmt.Errorf("list specimens closed long ago: %w", err)
		}
		if made = len(ids); made == 0 {
			return nil
		}
		found, err := determinationsIn(tx, "", ids)
		if err != nil {
			return err
		}
		whole := slices.DeleteFunc(slices.Clone(ids), func(id string) bool { _, read := found.specimens[id]; return !read })
		if _, err := makeTestimoniesOf(tx, whole, found); err != nil {
			return err
		}
		return giveUpTestimonies(tx, ids)
	})
	return made, err
}

// unreadBody is the body of a testimony that cannot be made, since a row that it is made from cannot be read. It is JSON but
// no testimony, so that whoever reads it hears so; Rebuild makes both anew.
const unreadBody = "[]"

func giveUpTestimonies(tx *gorm.DB, specimens []string) error {
	given := tx.Model(&testimonyRow{}).Where("specimen_id IN ? AND body = ''", specimens).Update("body", unreadBody)
	if given.Error != nil {
		return fmt.Errorf("note what cannot be read: %w", given.Error)
	}
	return nil
}

// FindTestimonies implements service.Reader.
func (db *DB) FindTestimonies(ctx context.Context, f service.TestimonyFilter, page service.Page) ([]review.Closed, string, error) {
	query := byID(db.read(ctx), "group_id", f.Group).Where("closed_at IS NOT NULL AND body <> ''").Limit(page.Size)
	if f.Waiting {
		query = query.Where("learnt = 0")
	}
	if !f.Through.IsZero() {
		query = query.Where("closed_at <= ?", instantOf(f.Through))
	}
	order, beyond := "closed_at, specimen_id", "(closed_at, specimen_id) > (?, ?)"
	if f.Latest {
		order, beyond = "closed_at DESC, specimen_id DESC", "(closed_at, specimen_id) < (?, ?)"
	}
	if page.Cursor != "" {
		at, id, err := testimonyPlace(page.Cursor)
		if err != nil {
			return nil, "", err
		}
		query = query.Where(beyond, at, id)
	}
	var rows []testimonyRow
	if err := query.Order(order).Find(&rows).Error; err != nil {
		return nil, "", fmt.Errorf("read what was said of specimens: %w", err)
	}
	closed := make([]review.Closed, 0, len(rows))
	var unread []unreadRow
	for _, r := range rows {
		c, err := decodeTestimony(r.SpecimenID, r.Body)
		if err != nil {
			unread = append(unread, unreadRow{review.SpecimenStream(r.SpecimenID), err})
			continue
		}
		closed = append(closed, c)
	}
	if err := leaveOut(unread, f.Unread); err != nil || len(rows) < page.Size {
		return closed, "", err
	}
	last := rows[len(rows)-1]
	return closed, last.ClosedAt.Format(instantLayout) + " " + last.SpecimenID, nil
}

func testimonyPlace(cursor string) (instant, string, error) {
	time_, id, ok := strings.Cut(cursor, " ")
	at, err := time.Parse(instantLayout, time_)
	if !ok || err != nil {
		return instant{}, "", review.Invalidf("cursor", "is not one that a list has returned")
	}
	return instant{at}, id, nil
}

// TestimonyWaits implements service.Reader.
func (db *DB) TestimonyWaits(ctx context.Context, group string) (waits bool, err error) {
	if !storable(group) {
		return false, nil
	}
	err = db.read(ctx).Raw("SELECT EXISTS (SELECT 1 FROM testimonies WHERE group_id = ? AND closed_at IS NOT NULL AND learnt = 0) OR "+
		"EXISTS (SELECT 1 FROM testimonies WHERE body = '')", group).Scan(&waits).Error
	if err != nil {
		return false, fmt.Errorf("look for what waits to be learnt from: %w", err)
	}
	return waits, nil
}

// FewTestimonies implements service.Reader.
func (db *DB) FewTestimonies(ctx context.Context, group string, most int) (bool, error) {
	var n int
	if !storable(group) {
		return true, nil
	}
	err := db.read(ctx).Raw("SELECT COUNT(*) FROM (SELECT 1 FROM testimonies WHERE group_id = ? AND closed_at IS NOT NULL LIMIT ?) AS found", group, most+1).Scan(&n).Error
	if err != nil {
		return false, fmt.Errorf("count closed specimens: %w", err)
	}
	return n <= most, nil
}

// CountTestimonies implements service.Reader.
func (db *DB) CountTestimonies(ctx context.Context, group string) (n service.TestimonyCount, err error) {
	if !storable(group) {
		return n, nil
	}
	err = db.read(ctx).Raw("SELECT (SELECT COUNT(*) FROM testimonies WHERE group_id = ? AND closed_at IS NOT NULL) AS closed, "+
		"(SELECT COUNT(*) FROM testimonies WHERE group_id = ? AND closed_at IS NOT NULL AND learnt = 0) AS waiting, "+
		"(SELECT COUNT(DISTINCT specimen_id) FROM submissions WHERE group_id = ? AND opened_at IS NOT NULL) AS open",
		group, group, group).Scan(&n).Error
	if err != nil {
		return n, fmt.Errorf("count closed specimens: %w", err)
	}
	n.Open -= n.Closed
	var last []testimonyRow
	query := db.read(ctx).Select("closed_at").Where("group_id = ? AND closed_at IS NOT NULL", group).Order("closed_at DESC, specimen_id DESC").Limit(1)
	if err := query.Find(&last).Error; err != nil {
		return n, fmt.Errorf("find the specimen closed last: %w", err)
	}
	if len(last) > 0 {
		n.Latest = last[0].ClosedAt.Time
	}
	return n, nil
}

// rebuildTestimonies makes all rows again. Which ones were learnt from is worked out later (rebuildLearnt).
func rebuildTestimonies(tx *gorm.DB) error {
	if err := tx.Exec("UPDATE testimonies SET closed_at = NULL, learnt = 0").Error; err != nil {
		return fmt.Errorf("clear what is made again: %w", err)
	}
	return eachReviewed(tx, func(ids []string) error {
		_, err := makeTestimonies(tx, ids)
		return err
	})
}

// eachReviewed hands over the ids of all specimens of which something came before reviewers, some at a time.
func eachReviewed(tx *gorm.DB, use func(ids []string) error) error {
	after := ""
	for {
		var ids []string
		err := tx.Model(&submissionRow{}).Where("opened_at IS NOT NULL AND specimen_id > ?", after).Distinct("specimen_id").
			Order("specimen_id").Limit(streamsAtOnce).Pluck("specimen_id", &ids).Error
		if err != nil {
			return fmt.Errorf("list specimens: %w", err)
		}
		if len(ids) == 0 {
			return nil
		}
		after = ids[len(ids)-1]
		if err := use(ids); err != nil {
			return err
		}
	}
}

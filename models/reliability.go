package models

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/review"
)

// reliabilityRow is a row of reliabilities: a snapshot without its people, who have rows of their own.
type reliabilityRow struct {
	GroupID string `gorm:"primaryKey"`
	Version int
	At      instant
	Body    string
	// Mentions stand apart, because every act reads them and the rest may be long.
	Mentions string
}

func (reliabilityRow) TableName() string { return "reliabilities" }

// knownRow is a row of reliability_people: what is known of one person.
type knownRow struct {
	GroupID string `gorm:"primaryKey"`
	Person  string `gorm:"primaryKey"`
	Body    string
	// ReadsBelow: of some region of the body, see review.PersonKnown.
	ReadsBelow bool
}

func (knownRow) TableName() string { return "reliability_people" }

// reliabilityRows are a snapshot as rows. Whole: people holds everybody, and nobody else stays; otherwise only those of
// whom something was learnt.
type reliabilityRows struct {
	head   reliabilityRow
	people []knownRow
	whole  bool
	// learnt are the events, and value what they make: they tell from which specimens nothing is to be learnt any more.
	learnt []review.Event
	value  review.Reliability
}

// toReliabilityRows takes from a snapshot what its events have changed.
func toReliabilityRows(r review.Reliability, events []review.Event) (reliabilityRows, error) {
	people := r.People
	mentions, err := encodeMentions(r)
	if err != nil {
		return reliabilityRows{}, err
	}
	r.People, r.Mentions = nil, nil
	body, err := json.Marshal(r)
	if err != nil {
		return reliabilityRows{}, fmt.Errorf("encode the reliability of %s: %w", r.Group, err)
	}
	rows := reliabilityRows{value: r, learnt: events, head: reliabilityRow{GroupID: r.Group, Version: r.Version, At: instantOf(r.At), Body: string(body), Mentions: mentions}}
	changed, whole := learntIn(r.Group, events)
	if rows.whole = whole; whole {
		changed = slices.Collect(maps.Keys(people))
	}
	slices.Sort(changed)
	for _, id := range slices.Compact(changed) {
		known, err := json.Marshal(people[id])
		if err != nil {
			return reliabilityRows{}, fmt.Errorf("encode what is known of %s: %w", id, err)
		}
		rows.people = append(rows.people, knownRow{GroupID: r.Group, Person: id, Body: string(known), ReadsBelow: len(people[id].ReadsBelow()) > 0})
	}
	return rows, nil
}

// encodeMentions are the mentions of a snapshot, "{}" where there are none.
func encodeMentions(r review.Reliability) (string, error) {
	if len(r.Mentions) == 0 {
		return "{}", nil
	}
	text, err := json.Marshal(r.Mentions)
	if err != nil {
		return "", fmt.Errorf("encode what lists of %s mention: %w", r.Group, err)
	}
	return string(text), nil
}

// learntIn lists whom events tell something about; whole where they tell about everybody.
func learntIn(group string, events []review.Event) (changed []string, whole bool) {
	whole = true
	for _, e := range events {
		if e.Stream != review.ReliabilityStream(group) {
			continue
		}
		learned, ok := e.Change.(*review.ReliabilityLearned)
		if !ok {
			return nil, true
		}
		whole = false
		changed = slices.AppendSeq(changed, maps.Keys(learned.People))
	}
	return changed, whole
}

// store puts the rows in place of older ones, and leaves rows alone that were made from later events.
func (r *reliabilityRows) store(tx *gorm.DB) error {
	if r == nil {
		return nil
	}
	newer := clause.Expr{SQL: "reliabilities.version < excluded.version"}
	stored := tx.Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "group_id"}}, UpdateAll: true,
		Where: clause.Where{Exprs: []clause.Expression{newer}}}).Create(&r.head)
	if stored.Error != nil {
		return fmt.Errorf("store a reliability: %w", stored.Error)
	}
	if stored.RowsAffected == 0 {
		return nil
	}
	if r.whole {
		if err := tx.Where("group_id = ?", r.head.GroupID).Delete(&knownRow{}).Error; err != nil {
			return fmt.Errorf("replace what is known of people: %w", err)
		}
	}
	if err := markLearnt(tx, r.value, r.learnt); err != nil {
		return err
	}
	const atOnce = 1000 // databases bound how many values a statement has
	for rows := range slices.Chunk(r.people, atOnce) {
		same := clause.OnConflict{Columns: []clause.Column{{Name: "group_id"}, {Name: "person"}}, UpdateAll: true}
		if err := insert(tx.Clauses(same), "what is known of people", rows); err != nil {
			return err
		}
	}
	return nil
}

// Reliability implements review.Reader.
func (db *DB) Reliability(ctx context.Context, group string) (review.Reliability, error) {
	return db.reliability(ctx, group, db.read(ctx).Model(&knownRow{}))
}

// ReliabilityOf implements review.Reader.
func (db *DB) ReliabilityOf(ctx context.Context, group string, persons []string) (review.Reliability, error) {
	return db.reliability(ctx, group, db.read(ctx).Model(&knownRow{}).Where("person IN ?", storableIDs(persons)))
}

// ReliabilityAt implements service.Reader. A refit holds everything, so that nothing before the last one is read.
func (db *DB) ReliabilityAt(ctx context.Context, group string, version int) (review.Reliability, error) {
	const events = "SELECT * FROM events WHERE stream = ? AND seq <= ? AND seq >= " +
		"COALESCE((SELECT seq FROM events WHERE stream = ? AND seq <= ? AND kind = 'reliability-refitted' ORDER BY seq DESC LIMIT 1), 1) ORDER BY seq"
	if !storable(group) {
		return review.NewReliability(group), nil
	}
	stream := review.ReliabilityStream(group)
	var rows []eventRow
	if err := db.read(ctx).Raw(events, stream, version, stream, version).Scan(&rows).Error; err != nil {
		return review.Reliability{}, fmt.Errorf("read the reliability of %s as of %d: %w", group, version, err)
	}
	learnt, err := fromRows(rows, eventRow.fromRow)
	if err != nil {
		return review.Reliability{}, err
	}
	return review.ReplayReliability(group, learnt)
}

// ReadBelow implements review.Reader. Who cannot be read is left out: what is known of them is worked out elsewhere.
func (db *DB) ReadBelow(ctx context.Context, group string, most int) (map[string]review.PersonKnown, error) {
	found := review.NewReliability(group)
	var rows []knownRow
	err := byID(db.read(ctx), "group_id", group).Where("reads_below").Order("person").Limit(most).Find(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("list who reads below their role: %w", err)
	}
	for _, row := range rows {
		addKnown(&found, row.Person, row.Body)
	}
	return found.People, nil
}

// reliability reads a snapshot with some people in one statement, so that all is of one version.
func (db *DB) reliability(ctx context.Context, group string, people *gorm.DB) (review.Reliability, error) {
	r := review.NewReliability(group)
	if !storable(group) {
		return r, nil
	}
	var rows []struct{ Person, Body, Mentions string }
	err := db.read(ctx).Raw("SELECT '' AS person, body, mentions FROM reliabilities WHERE group_id = ? UNION ALL SELECT * FROM (?) AS known",
		group, people.Select("person", "body", "'' AS mentions").Where("group_id = ?", group)).Scan(&rows).Error
	if err != nil {
		return review.Reliability{}, fmt.Errorf("read the reliability of %s: %w", group, err)
	}
	for _, row := range rows {
		if row.Person == "" {
			r = withHead(r, row.Body)
			addMentions(&r, row.Mentions)
		}
	}
	for _, row := range rows {
		if row.Person != "" {
			addKnown(&r, row.Person, row.Body)
		}
	}
	return r, nil
}

// withHead is a snapshot without people as its row says.
func withHead(r review.Reliability, body string) review.Reliability {
	head := r
	if err := json.Unmarshal([]byte(body), &head); err != nil {
		r.Unread = append(r.Unread, review.ReliabilityStream(r.Group))
		return r
	}
	head.People = r.People
	return head
}

// addMentions adds what a row says of lists, or names the group among what cannot be read.
func addMentions(r *review.Reliability, text string) {
	var mentions map[string]review.Mentions
	if err := json.Unmarshal([]byte(text), &mentions); err != nil {
		r.Unread = append(r.Unread, review.ReliabilityStream(r.Group))
		return
	}
	if len(mentions) > 0 {
		r.Mentions = mentions
	}
}

// addKnown adds what a row says of a person, or names it among those that cannot be read.
func addKnown(r *review.Reliability, person, body string) {
	var known review.PersonKnown
	if err := json.Unmarshal([]byte(body), &known); err != nil {
		r.Unread = append(r.Unread, review.ReliabilityStream(r.Group)+"/"+person)
		return
	}
	r.People[person] = known
}

func (db *DB) rebuildReliabilities(tx *gorm.DB, streams [][]review.Event) error {
	for _, events := range streams {
		group := strings.TrimPrefix(events[0].Stream, review.ReliabilityStream(""))
		reliability, err := review.ReplayReliability(group, events)
		if err != nil {
			return err
		}
		rows, err := toReliabilityRows(reliability, nil)
		if err != nil {
			return err
		}
		if err := rows.store(tx); err != nil {
			return err
		}
		if err := rebuildLearnt(tx, reliability, events, db.dialect); err != nil {
			return err
		}
	}
	return nil
}

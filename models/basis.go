package models

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"

	"gorm.io/gorm"

	"revidit/review"
	"revidit/review/service"
)

// Basis implements service.Reader. Two statements read everything, in one snapshot.
func (db *DB) Basis(ctx context.Context, asked service.Asked) (b service.Basis, err error) {
	if asked.Submission == "" && asked.Specimen == "" {
		return b, readBeside(db.read(ctx), &b, []string{asked.Person}, asked.Person)
	}
	err = db.snapshot(ctx, func(tx *gorm.DB) error {
		if err := readRecord(tx, &b, asked); err != nil {
			return err
		}
		return readBeside(tx, &b, append(review.Reporters(&b.Specimen, b.Submissions), asked.Person), asked.Person)
	})
	return b, err
}

// snapshot runs queries that all see the database as it was at the first of them.
func (db *DB) snapshot(ctx context.Context, queries func(tx *gorm.DB) error) error {
	ctx, end := hurry(ctx) // a long reader would keep SQLite's log from being cut
	defer end()
	err := db.read(ctx).Transaction(queries, &sql.TxOptions{Isolation: db.snapshots, ReadOnly: true})
	return faultOf(ended(ctx, err), nothingStored)
}

// readRecord reads a specimen with all its submissions, the oldest first.
func readRecord(tx *gorm.DB, b *service.Basis, asked service.Asked) error {
	const record = "SELECT 'specimen' AS kind, id, body, 0 AS evidence, NULL AS drafted_at, " +
		"(SELECT e.at FROM events AS e WHERE e.stream = 'specimen/' || specimens.id ORDER BY e.seq DESC LIMIT 1) AS changed_at FROM specimens WHERE id = %[1]s " +
		"UNION ALL SELECT 'submission', id, body, evidence, drafted_at, changed_at FROM submissions WHERE specimen_id = %[1]s ORDER BY drafted_at, id"
	which, id, notFound := "?", asked.Specimen, "There is no specimen %s."
	if asked.Submission != "" {
		which, id, notFound = "(SELECT specimen_id FROM submissions WHERE id = ?)", asked.Submission, "There is no submission %s."
	}
	missing := review.Errorf(review.KindNotFound, notFound, id)
	if !storable(id) {
		return missing
	}
	var rows []struct {
		Kind, ID, Body string
		Evidence       int
		ChangedAt      *instant
	}
	if err := tx.Raw(fmt.Sprintf(record, which), id, id).Scan(&rows).Error; err != nil {
		return fmt.Errorf("read a specimen with its submissions: %w", err)
	}
	for _, row := range rows {
		if row.ChangedAt != nil && row.ChangedAt.After(b.Last) {
			b.Last = row.ChangedAt.Time
		}
		if row.Kind == "specimen" {
			specimen, err := specimenRow{ID: row.ID, Body: row.Body}.fromRow()
			if err != nil {
				return err
			}
			b.Specimen = specimen
			continue
		}
		submission, err := submissionRow{ID: row.ID, Body: row.Body, Evidence: row.Evidence}.fromRow()
		if err != nil {
			return err
		}
		b.Submissions = append(b.Submissions, submission)
	}
	if b.Specimen.ID == "" {
		return missing
	}
	return nil
}

// readBeside reads the policy, the releases in force, what is known of some persons and what one has been shown of the specimen,
// in one statement.
func readBeside(tx *gorm.DB, b *service.Basis, persons []string, who string) error {
	const beside = "SELECT 'policy' AS kind, '' AS group_id, '' AS person, version AS n, body FROM policies WHERE version = (SELECT max(version) FROM policies) " +
		"UNION ALL SELECT 'release', group_id, '', seq, hash FROM releases AS r WHERE NOT EXISTS (SELECT 1 FROM releases AS newer WHERE newer.group_id = r.group_id AND newer.seq > r.seq) " +
		"UNION ALL SELECT 'reliability', group_id, '', version, '' FROM reliabilities " +
		"UNION ALL SELECT 'person', group_id, person, 0, body FROM reliability_people WHERE person IN ? " +
		"UNION ALL SELECT 'opening', '', person, seq, CASE WHEN verdicts THEN 'verdicts' ELSE '' END FROM openings WHERE specimen_id = ? AND person = ?"
	if !storable(who) {
		who = ""
	}
	var rows []besideRow
	if err := tx.Raw(beside, storableIDs(persons), b.Specimen.ID, who).Scan(&rows).Error; err != nil {
		return fmt.Errorf("read what a decision rests on: %w", err)
	}
	b.Policy, b.Releases, b.People = review.DefaultPolicy(), map[string]string{}, map[string]*review.Reliability{}
	for _, row := range rows {
		if err := row.into(b); err != nil {
			return err
		}
	}
	return nil
}

// besideRow is the policy, a release in force, what is known of people, or what one has been shown.
type besideRow struct {
	Kind    string
	GroupID string
	Person  string
	N       int
	Body    string
}

func (r besideRow) into(b *service.Basis) error {
	switch r.Kind {
	case "policy":
		b.Policy = review.Policy{}
		if err := json.Unmarshal([]byte(r.Body), &b.Policy); err != nil {
			return fmt.Errorf("decode policy %d: %w", r.N, err)
		}
	case "release":
		b.Releases[r.GroupID] = r.Body
	case "reliability":
		knownIn(b, r.GroupID).Version = r.N
	case "opening":
		b.Opened = review.Opening{Specimen: b.Specimen.ID, Person: r.Person, Seq: r.N, Verdicts: r.Body != ""}
	case "person":
		var known review.PersonKnown
		if err := json.Unmarshal([]byte(r.Body), &known); err != nil {
			return unreadable("what is known of person", r.Person, err)
		}
		knownIn(b, r.GroupID).People[r.Person] = known
	}
	return nil
}

func knownIn(b *service.Basis, group string) *review.Reliability {
	if b.People[group] == nil {
		known := review.NewReliability(group)
		b.People[group] = &known
	}
	return b.People[group]
}

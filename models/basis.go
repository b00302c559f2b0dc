package models

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"slices"

	"gorm.io/gorm"

	"revidit/review"
	"revidit/review/service"
)

// Basis implements service.Reader. Two statements read everything, in one snapshot; of a draft it is two more.
func (db *DB) Basis(ctx context.Context, asked service.Asked) (b service.Basis, err error) {
	if asked.Submission == "" && asked.Specimen == "" {
		return b, readBeside(db.read(ctx), &b, "", asked.Person)
	}
	err = db.snapshot(ctx, func(tx *gorm.DB) error {
		err := readRecord(tx, &b, asked)
		specimen := b.Specimen.ID
		if asked.Submission != "" && review.KindOf(err) == review.KindNotFound {
			specimen, err = readDrafted(tx, &b, asked)
		}
		if err != nil {
			return err
		}
		return readBeside(tx, &b, specimen, asked.Person)
	})
	return b, err
}

// readDrafted reads what a draft of a person rests on, and returns the id of its specimen. The draft itself is one of those
// that readBeside finds.
func readDrafted(tx *gorm.DB, b *service.Basis, asked service.Asked) (specimen string, err error) {
	d, err := draftOf(tx, asked.Person, asked.Submission)
	if err != nil || !d.Registered {
		return d.Proposal.Specimen, err
	}
	return d.Proposal.Specimen, readRecord(tx, b, service.Asked{Specimen: d.Proposal.Specimen})
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

// readBeside reads the policy, the releases in force, what is known of those who have had to do with a specimen and of who asks,
// and what the latter has been shown of it and drafts of it, in one statement.
func readBeside(tx *gorm.DB, b *service.Basis, specimen, who string) error {
	const beside = "SELECT 'policy' AS kind, '' AS group_id, '' AS person, version AS n, body FROM policies WHERE version = (SELECT max(version) FROM policies) " +
		"UNION ALL SELECT 'release', group_id, '', seq, hash FROM releases AS r WHERE NOT EXISTS (SELECT 1 FROM releases AS newer WHERE newer.group_id = r.group_id AND newer.seq > r.seq) " +
		"UNION ALL SELECT 'reliability', group_id, '', version, mentions FROM reliabilities " +
		"UNION ALL SELECT 'person', group_id, person, 0, body FROM reliability_people WHERE person IN ? " +
		"UNION ALL SELECT 'opening', '', person, seq, CASE WHEN verdicts THEN 'verdicts' ELSE '' END FROM openings WHERE specimen_id = ? AND person = ? " +
		"UNION ALL SELECT 'draft', '', id, version, body FROM drafts WHERE specimen_id = ? AND owner = ? " +
		"UNION ALL SELECT 'series', '', id, (SELECT count(*) FROM submissions AS i WHERE i.series = series.id AND i.series <> ''), body FROM series WHERE member = ? AND status = 'running' " +
		"UNION ALL SELECT 'series', '', id, 0, body FROM series WHERE id IN ?"
	persons := append(review.Reporters(&b.Specimen, b.Submissions), who)
	if !storable(who) {
		who = ""
	}
	var rows []besideRow
	if err := tx.Raw(beside, storableIDs(persons), specimen, who, specimen, who, who, seriesIn(b.Submissions)).Scan(&rows).Error; err != nil {
		return fmt.Errorf("read what a decision rests on: %w", err)
	}
	b.Policy, b.Releases, b.People = review.DefaultPolicy(), map[string]string{}, map[string]*review.Reliability{}
	for _, row := range rows {
		if err := row.into(b); err != nil {
			return err
		}
	}
	slices.SortFunc(b.Drafts, func(a, b review.Draft) int { return cmp.Or(a.BegunAt.Compare(b.BegunAt), cmp.Compare(a.ID, b.ID)) })
	return nil
}

// seriesIn are the series that submissions are part of.
func seriesIn(submissions []review.Submission) []string {
	ids := []string{}
	for i := range submissions {
		if id := submissions[i].Series; id != "" && !slices.Contains(ids, id) {
			ids = append(ids, id)
		}
	}
	return ids
}

// besideRow is the policy, a release in force, what is known of people, what one has been shown, or a draft.
type besideRow struct {
	Kind    string
	GroupID string
	Person  string // of a draft its id
	N       int
	Body    string
}

func (r besideRow) into(b *service.Basis) error {
	switch r.Kind {
	case "policy":
		b.Policy = review.Policy{}
		if err := json.Unmarshal([]byte(r.Body), &b.Policy); err != nil {
			return unreadablePolicy(r.N, err)
		}
	case "release":
		b.Releases[r.GroupID] = r.Body
	case "reliability":
		known := knownIn(b, r.GroupID)
		known.Version = r.N
		addMentions(known, r.Body)
	case "opening":
		b.Opened = review.Opening{Specimen: b.Specimen.ID, Person: r.Person, Seq: r.N, Verdicts: r.Body != ""}
	case "series":
		s, err := seriesRow{ID: r.Person, Body: r.Body}.fromRow()
		if err != nil {
			return err
		}
		b.Series, b.InSeries = append(b.Series, s), b.InSeries+r.N
	case "draft": // one that cannot be read keeps nobody from anything but itself, see readDrafted
		if d, err := (draftRow{ID: r.Person, Version: r.N, Body: r.Body}).fromRow(); err == nil {
			b.Drafts = append(b.Drafts, d)
		}
	case "person":
		known := knownIn(b, r.GroupID)
		addKnown(known, r.Person, r.Body)
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

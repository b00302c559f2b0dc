package models

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"

	"gorm.io/gorm"

	"revidit/review"
	"revidit/review/judgement"
	"revidit/review/service"
)

// submissionRow is a row of submissions. What lists show of the specimen is joined, not copied.
type submissionRow struct {
	ID             string `gorm:"primaryKey"`
	Seq            int
	GroupID        string // may be empty: a submission of a time without groups, made again from its events
	SpecimenID     string
	Owner          string
	Status         review.Status
	Family         string
	ScientificName string
	Qualifier      review.Qualifier
	Doubted        review.Rank
	Search         string
	Confidence     float64
	LeadingFamily  string
	Contradictions int
	Against        int    // bits of againstBits
	Release        string // hash of the tables that it was last judged with
	Photo          string
	Reviewers      int
	Gain           float64
	DraftedAt      instant
	ChangedAt      instant
	OpenedAt       *instant
	OpenedUnix     *float64
	HoldBy         string
	HoldUntil      *instant
	Determiner     string
	KnownTo        string // persons, each between two spaces
	DrawRate       *float64
	DrawSeed       *string
	RecheckOpen    bool
	Parted         bool
	Series         string
	Evidence       int
	Recheck        *string // as JSON
	Body           string
}

func (submissionRow) TableName() string { return "submissions" }

func toSubmissionRow(s review.Submission) (submissionRow, error) {
	body, err := json.Marshal(s)
	if err != nil {
		return submissionRow{}, fmt.Errorf("encode submission %s: %w", s.ID, err)
	}
	d := s.Determination
	row := submissionRow{ID: s.ID, Seq: s.Seq, GroupID: s.Group, SpecimenID: s.Specimen, Owner: s.Owner, Status: s.Status, Family: d.Family,
		ScientificName: d.ScientificName, Qualifier: d.Qualifier, Doubted: d.Doubted, Search: searchable(d.Family, d.ScientificName),
		Reviewers: reviewers(&s), Gain: s.Gain, DraftedAt: instantOf(s.DraftedAt), ChangedAt: instantOf(s.ChangedAt),
		OpenedAt: instantOrNull(s.OpenedAt), Determiner: d.Determiner, KnownTo: spaced(s.KnownTo()...),
		RecheckOpen: s.RecheckOpen(), Parted: s.Parted(), Series: s.Series, Evidence: s.Evidence, Body: string(body)}
	if row.Recheck, err = recheckOf(&s); err != nil {
		return submissionRow{}, err
	}
	if s.Draw != nil {
		row.DrawRate, row.DrawSeed = &s.Draw.Rate, &s.Draw.Seed
	}
	if len(s.Photos) > 0 {
		row.Photo = s.Photos[0]
	}
	if s.OpenedAt != nil {
		seconds := unixSeconds(*s.OpenedAt)
		row.OpenedUnix = &seconds
	}
	if s.Hold != nil {
		row.HoldBy, row.HoldUntil = s.Hold.By, instantOrNull(&s.Hold.Until)
	}
	if s.Assessment != nil {
		row.Confidence, row.Contradictions = s.Assessment.Confidence, len(s.Assessment.Contradictions)
		row.Against, row.Release = againstOf(s.Assessment.Contradictions), s.Assessment.TablesHash
		if len(s.Assessment.Ranking) > 0 {
			row.LeadingFamily = s.Assessment.Ranking[0].Family
		}
	}
	return row, nil
}

// againstBits are what kinds of contradictions are in a column: each has an index that holds nothing else (0036).
var againstBits = map[judgement.ContradictionKind]int{judgement.Excluded: 1, judgement.Incompatible: 2, judgement.Combination: 4,
	judgement.BetterFit: 8, judgement.Unusual: 16, judgement.Unseen: 32}

func againstOf(contradictions []judgement.Contradiction) (bits int) {
	for _, c := range contradictions {
		bits |= againstBits[c.Kind]
	}
	return bits
}

// spaced joins ids so that each stands between two spaces, and can be looked for with them.
func spaced(ids ...string) string { return " " + strings.Join(append(ids, ""), " ") }

// replaceSubmissions stores rows with their entries in the queue, but leaves those alone that were made from later events.
func (db *DB) replaceSubmissions(tx *gorm.DB, submissions []review.Submission, known labels) error {
	for _, s := range submissions {
		row, err := toSubmissionRow(s)
		if err != nil {
			return err
		}
		stored := tx.Clauses(onlyNewer("submissions")).Create(&row)
		if stored.Error != nil {
			return fmt.Errorf("store submissions: %w", stored.Error)
		}
		if stored.RowsAffected == 0 {
			continue
		}
		if err := db.replaceEntries(tx, s, known); err != nil {
			return err
		}
	}
	return nil
}

// reviewers is how many people have saved a verdict or an opinion.
func reviewers(s *review.Submission) int {
	seen := map[string]bool{}
	for _, v := range s.Verdicts {
		seen[v.By] = true
	}
	for _, o := range s.Opinions {
		seen[o.By] = true
	}
	return len(seen)
}

func (r submissionRow) fromRow() (s review.Submission, err error) {
	err = json.Unmarshal([]byte(r.Body), &s)
	if err == nil && s.ID != r.ID {
		err = fmt.Errorf("it is that of %q", s.ID)
	}
	if err != nil {
		return review.Submission{}, unreadable("submission", r.ID, err)
	}
	s.Evidence = r.Evidence
	return s, nil
}

// Submission implements review.Reader.
func (db *DB) Submission(ctx context.Context, id string) (review.Submission, error) {
	row, err := find[submissionRow](byID(db.read(ctx), "id", id), "There is no submission %s.", id)
	if err != nil {
		return review.Submission{}, err
	}
	return row.fromRow()
}

// SubmissionsWith implements review.Reader.
func (db *DB) SubmissionsWith(ctx context.Context, ids []string, unread func(stream string)) (map[string]review.Submission, error) {
	found := map[string]review.Submission{}
	if ids = storableIDs(ids); len(ids) == 0 {
		return found, nil
	}
	var rows []submissionRow
	if err := db.read(ctx).Where("id IN ?", ids).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read some submissions: %w", err)
	}
	var left []unreadRow
	for _, row := range rows {
		s, err := row.fromRow()
		if err != nil {
			left = append(left, unreadRow{review.SubmissionStream(row.ID), err})
			continue
		}
		found[s.ID] = s
	}
	return found, leaveOut(left, unread)
}

// SubmissionsOf implements review.Reader.
func (db *DB) SubmissionsOf(ctx context.Context, specimen string) ([]review.Submission, error) {
	var rows []submissionRow
	query := byID(db.read(ctx), "specimen_id", specimen).Order("drafted_at, id")
	if err := query.Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read the submissions of a specimen: %w", err)
	}
	return fromRows(rows, submissionRow.fromRow)
}

// CountByStatus implements review.Reader. What never came before reviewers, a draft or one withdrawn as a draft, is
// counted for its owner alone.
func (db *DB) CountByStatus(ctx context.Context, owner string) (map[review.Status]int, error) {
	if !storable(owner) {
		owner = ""
	}
	var parts []string
	var args []any
	count := func(status review.Status, which string, values ...any) {
		// In the order of an index, or PostgreSQL takes what it needs from the table, which is all of it for what stands last.
		// The oldest first: it need not look up in the table what has not been changed for long.
		parts = append(parts, "SELECT ? AS status, count(*) AS n FROM (SELECT 1 AS one FROM submissions WHERE status = ? AND "+which+" ORDER BY changed_at LIMIT ?) AS counted")
		args = append(append(append(args, string(status), string(status)), values...), service.MostCounted+1)
	}
	for _, status := range review.Statuses {
		count(status, "opened_at IS NOT NULL")
	}
	for _, status := range []review.Status{review.StatusDraft, review.StatusWithdrawn} {
		count(status, "opened_at IS NULL AND owner = ?", owner)
		parts = append(parts, "SELECT ? AS status, count(*) AS n FROM (SELECT 1 AS one FROM drafts WHERE status = ? AND owner = ? ORDER BY changed_at LIMIT ?) AS counted")
		args = append(args, string(status), string(status), owner, service.MostCounted+1)
	}
	var rows []struct {
		Status review.Status
		N      int
	}
	if err := db.read(ctx).Raw(strings.Join(parts, " UNION ALL "), args...).Scan(&rows).Error; err != nil {
		return nil, fmt.Errorf("count submissions: %w", err)
	}
	counts := map[review.Status]int{}
	for _, row := range rows {
		if row.N > 0 {
			counts[row.Status] = min(counts[row.Status]+row.N, service.MostCounted+1)
		}
	}
	return counts, nil
}

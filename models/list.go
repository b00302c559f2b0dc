package models

import (
	"context"
	"fmt"
	"strings"

	"gorm.io/gorm"

	"revidit/review"
	"revidit/review/service"
)

// lineRow is a submission in a list, with what is joined to it.
type lineRow struct {
	ID              string
	Status          review.Status
	GroupID         string
	Family          string
	Qualifier       review.Qualifier
	ScientificName  string
	SpecimenID      string
	CatalogueNumber string
	Trip            string
	StoragePlace    string
	Owner           string
	OwnerName       string
	Confidence      float64
	LeadingFamily   string
	Contradictions  int
	Photo           string
	Reviewers       int
	OpenedAt        *instant
	ChangedAt       instant
	HoldBy          string
	HoldUntil       *instant
	DrawRate        *float64
	DrawSeed        string
	KnownTo         string
	RecheckOpen     bool
}

const lineColumns = "s.id, s.status, s.group_id, s.family, s.qualifier, s.scientific_name, s.specimen_id, sp.catalogue_number, sp.trip, " +
	"sp.storage_place, s.owner, COALESCE(p.name, '') AS owner_name, s.confidence, s.leading_family, s.contradictions, s.photo, " +
	"s.reviewers, s.opened_at, s.changed_at, s.hold_by, s.hold_until, s.draw_rate, COALESCE(s.draw_seed, '') AS draw_seed, s.known_to, s.recheck_open"

func (r lineRow) fromRow() service.SubmissionLine {
	line := service.SubmissionLine{ID: r.ID, Status: r.Status, Group: r.GroupID, Family: r.Family, Qualifier: r.Qualifier,
		ScientificName: r.ScientificName, Specimen: r.SpecimenID, CatalogueNumber: r.CatalogueNumber, Trip: r.Trip,
		Drawer: r.StoragePlace, Owner: r.Owner, OwnerName: r.OwnerName, Confidence: r.Confidence, Leading: r.LeadingFamily,
		Contradictions: r.Contradictions, Photo: r.Photo, Reviewers: r.Reviewers, OpenedAt: timeOrNil(r.OpenedAt),
		ChangedAt: r.ChangedAt.Time, HeldBy: r.HoldBy, HeldUntil: timeOrNil(r.HoldUntil),
		KnownTo: strings.Fields(r.KnownTo), RecheckOpen: r.RecheckOpen}
	if r.DrawRate != nil {
		line.Draw = &review.Draw{Rate: *r.DrawRate, Seed: r.DrawSeed}
	}
	return line
}

// lines are all submissions with their specimen and the name of their owner.
func (db *DB) lines(ctx context.Context) *gorm.DB {
	return db.read(ctx).Table("submissions AS s").
		Joins("JOIN specimens AS sp ON sp.id = s.specimen_id").
		Joins("LEFT JOIN people AS p ON p.id = s.owner")
}

// narrow adds a condition unless the value is empty.
func narrow(query *gorm.DB, condition, value string) *gorm.DB {
	if value == "" {
		return query
	}
	return query.Where(condition, value)
}

// listPosition is where a page of FindSubmissions has ended.
type listPosition struct {
	ChangedAt instant `json:"changed_at"`
	ID        string  `json:"id"`
}

func (p *listPosition) valid() bool { return !p.ChangedAt.IsZero() && p.ID != "" && storable(p.ID) }

// FindSubmissions implements review.Reader. HeldBy and HeldUntil are as stored, even where the hold has run out.
func (db *DB) FindSubmissions(ctx context.Context, f service.SubmissionFilter, page service.Page) ([]service.SubmissionLine, string, error) {
	if err := checkSize(page); err != nil {
		return nil, "", err
	}
	err := checkFilter("viewer", f.Viewer, "owner", f.Owner, "specimen", f.Specimen, "status", string(f.Status),
		"group", f.Group, "family", f.Family, "text", f.Text)
	if err != nil {
		return nil, "", err
	}
	query := matching(db.lines(ctx), f)
	if page.Cursor != "" {
		var after listPosition
		if err := decodeCursor(page.Cursor, &after); err != nil {
			return nil, "", err
		}
		query = query.Where("(s.changed_at, s.id) < (?, ?)", instantOf(after.ChangedAt.Time), after.ID)
	}
	var rows []lineRow
	if err := query.Select(lineColumns).Order("s.changed_at DESC, s.id DESC").Limit(page.Size + 1).Scan(&rows).Error; err != nil {
		return nil, "", fmt.Errorf("list submissions: %w", err)
	}
	next := ""
	if len(rows) > page.Size {
		rows = rows[:page.Size]
		last := rows[page.Size-1]
		if next, err = encodeCursor(listPosition{ChangedAt: last.ChangedAt, ID: last.ID}); err != nil {
			return nil, "", err
		}
	}
	lines := []service.SubmissionLine{}
	for _, row := range rows {
		lines = append(lines, row.fromRow())
	}
	return lines, next, nil
}

func matching(query *gorm.DB, f service.SubmissionFilter) *gorm.DB {
	if f.Owner == "" || f.Owner != f.Viewer {
		// A draft, and one withdrawn as a draft, is known to its owner alone.
		query = query.Where("s.opened_at IS NOT NULL")
	}
	query = narrow(query, "s.owner = ?", f.Owner)
	query = narrow(query, "s.specimen_id = ?", f.Specimen)
	if f.Specimens != nil {
		query = query.Where("s.specimen_id IN ?", f.Specimens)
	}
	query = narrow(query, "s.status = ?", string(f.Status))
	query = narrow(query, "s.group_id = ?", f.Group)
	query = narrow(query, "s.family = ?", f.Family)
	if f.Text != "" {
		pattern := containing(f.Text)
		query = query.Where(`(s.search LIKE ? ESCAPE '\' OR sp.search LIKE ? ESCAPE '\')`, pattern, pattern)
	}
	if f.Doubtful {
		query = query.Where("s.contradictions > 0 AND (s.owner = ? OR s.status NOT IN ?)", f.Viewer, []string{"open", "returned"})
	}
	return query
}

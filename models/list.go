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
	Doubted         review.Rank
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
	LabelPhotos     string
	SpecimenOwner   string
	Counted         int // of the list, see linesOf
	Series          string
	OwnName         bool // of the queue, see candidates
}

const lineColumns = "line.id, line.status, line.group_id, line.family, line.qualifier, line.scientific_name, line.doubted, line.specimen_id, " +
	"sp.catalogue_number, sp.trip, sp.storage_place, line.owner, " +
	"COALESCE((SELECT p.name FROM people AS p WHERE p.id = line.owner), '') AS owner_name, line.confidence, line.leading_family, " +
	"line.contradictions, line.photo, line.reviewers, line.opened_at, line.changed_at, line.hold_by, line.hold_until, line.draw_rate, " +
	"COALESCE(line.draw_seed, '') AS draw_seed, line.known_to, line.recheck_open, sp.label_photos, sp.owner AS specimen_owner, line.series"

func (r lineRow) fromRow() service.SubmissionLine {
	line := service.SubmissionLine{ID: r.ID, Status: r.Status, Group: r.GroupID, Family: r.Family, Qualifier: r.Qualifier,
		ScientificName: r.ScientificName, Doubted: r.Doubted, Specimen: r.SpecimenID, CatalogueNumber: r.CatalogueNumber, Trip: r.Trip,
		Drawer: r.StoragePlace, Owner: r.Owner, OwnerName: r.OwnerName, Confidence: r.Confidence, Leading: r.LeadingFamily,
		Contradictions: r.Contradictions, Photo: r.Photo, Reviewers: r.Reviewers, OpenedAt: timeOrNil(r.OpenedAt),
		ChangedAt: r.ChangedAt.Time, HeldBy: r.HoldBy, HeldUntil: timeOrNil(r.HoldUntil),
		KnownTo: strings.Fields(r.KnownTo), RecheckOpen: r.RecheckOpen, LabelPhotos: strings.Fields(r.LabelPhotos), SpecimenOwner: r.SpecimenOwner, Series: r.Series}
	if r.DrawRate != nil {
		line.Draw = &review.Draw{Rate: *r.DrawRate, Seed: r.DrawSeed}
	}
	return line
}

// lines joins to submissions with firstColumns their specimen. The name of the owner is asked for line by line, see
// lineColumns: joined to it, PostgreSQL reads some thousands of people rather than look for fifty.
func (db *DB) lines(ctx context.Context, submissions *gorm.DB) *gorm.DB {
	return db.read(ctx).Table("(?) AS line", submissions).Joins("JOIN specimens AS sp ON sp.id = line.specimen_id")
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
		"group", f.Group, "family", f.Family, "text", f.Text, "series", f.Series, "determiner", f.Determiner, "judge", f.Judge, "release", f.Release)
	if err != nil {
		return nil, "", err
	}
	var after *listPosition
	if page.Cursor != "" {
		after = &listPosition{}
		if err := decodeCursor(page.Cursor, after); err != nil {
			return nil, "", err
		}
	}
	rows, err := db.listed(ctx, f, after, page.Size+1)
	if err != nil {
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

// listed are the first rows of a list behind a position.
func (db *DB) listed(ctx context.Context, f service.SubmissionFilter, after *listPosition, size int) (rows []lineRow, err error) {
	if f.Text != "" {
		rows, err = db.listedByText(ctx, f, after, size)
	} else {
		rows, _, err = db.linesOf(ctx, db.first(ctx, f, after, size, nil), size)
	}
	if err != nil || !listsDrafts(f) {
		return rows, err
	}
	drafts, err := db.draftLines(ctx, f, after, size)
	return latestFirst(rows, drafts, size), err
}

// linesOf are the lines of a list of submissions with their columns and counted, the same number in all of them. The list
// is cut before anything is joined to it, so that no database comes to join all of them.
func (db *DB) linesOf(ctx context.Context, list *gorm.DB, size int) (rows []lineRow, counted int, err error) {
	err = db.lines(ctx, list).Select(lineColumns + ", line.counted").
		Order("line.changed_at DESC, line.id DESC").Limit(size).Scan(&rows).Error
	if len(rows) > 0 {
		counted = rows[0].Counted
	}
	return rows, counted, err
}

// firstColumns are what lineColumns takes of a submission, and what texts are looked for in. All of them at once: a row
// is found once, by the index of the list, and not a second time by its id.
const firstColumns = "s.id, s.status, s.group_id, s.family, s.qualifier, s.scientific_name, s.doubted, s.specimen_id, s.owner, s.confidence, " +
	"s.leading_family, s.contradictions, s.photo, s.reviewers, s.opened_at, s.changed_at, s.hold_by, s.hold_until, s.draw_rate, " +
	"s.draw_seed, s.known_to, s.recheck_open, s.search, s.series"

// ofSpecimens are all submissions of some specimens, found before they are put in order. PostgreSQL, once it plans for any
// values, takes them for more than they are, and looks for the last fifty by going through all submissions in their order.
const ofSpecimens = "WITH of_specimens AS MATERIALIZED (SELECT " + firstColumns + " FROM submissions AS s WHERE s.specimen_id IN ?) SELECT * FROM of_specimens"

// withIDs is the same for submissions by their ids.
const withIDs = "WITH with_ids AS MATERIALIZED (SELECT " + firstColumns + ", s.determiner, s.release, s.against, s.parted FROM submissions AS s WHERE s.id IN ?) SELECT * FROM with_ids"

// first are the first submissions that a filter, all but its text, lets through behind a position; found narrows them
// unless it is nil. Each of its parts is in the order of an index.
func (db *DB) first(ctx context.Context, f service.SubmissionFilter, after *listPosition, size int, found *gorm.DB) *gorm.DB {
	part := func(conditions ...string) *gorm.DB {
		query := db.read(ctx).Table("submissions AS s").Select(firstColumns + ", 0 AS counted")
		if f.Specimens != nil {
			query = db.read(ctx).Table("("+ofSpecimens+") AS s", f.Specimens).Select(firstColumns + ", 0 AS counted")
		}
		if f.IDs != nil {
			query = db.read(ctx).Table("("+withIDs+") AS s", f.IDs).Select(firstColumns + ", 0 AS counted")
		}
		if found != nil {
			query = db.read(ctx).Table("(?) AS found", found).Joins("JOIN submissions AS s ON s.id = found.id").Select(firstColumns + ", found.counted")
		}
		order := orderOf(f, found)
		if f.Judge != "" {
			query = saying(query, f, order)
		}
		query = within(matching(query, f), order+".changed_at", f)
		for _, c := range conditions {
			query = query.Where(c)
		}
		if after != nil {
			query = query.Where("("+listOrder[order]+") < (?, ?)", instantOf(after.ChangedAt.Time), after.ID)
		}
		return query.Order(strings.ReplaceAll(listOrder[order], ",", " DESC,") + " DESC").Limit(size)
	}
	contradicted := "s.contradictions > 0"
	kind := contradicted
	if bit, known := againstBits[f.Against]; known { // alone, and written as in its index: PostgreSQL takes another one else
		kind = fmt.Sprintf("(s.against & %d) <> 0", bit)
	}
	switch {
	case !f.Doubtful && f.Against == "", f.Judge != "" && !f.Doubtful: // what was said is of closed ones, and tells the kind by itself
		return part()
	case f.Viewer == "":
		return part(kind, closed)
	case f.Owner == f.Viewer:
		return part(contradicted, kind)
	}
	// One's own by status: who has had many determinations has few that are not closed.
	own := func(status review.Status) *gorm.DB {
		return part(contradicted, kind).Where("s.owner = ? AND s.status = ?", f.Viewer, status)
	}
	return db.read(ctx).Raw("SELECT * FROM (?) AS closed UNION ALL SELECT * FROM (?) AS own UNION ALL SELECT * FROM (?) AS own_returned",
		part(kind, closed), own(review.StatusOpen), own(review.StatusReturned))
}

// listOrder is the order of a list, by the table that its index is of.
var listOrder = map[string]string{"s": "s.changed_at, s.id", "said": "said.changed_at, said.submission_id"}

// orderOf is the table by whose order a list is cut.
func orderOf(f service.SubmissionFilter, found *gorm.DB) string {
	if f.Judge != "" && found == nil && f.Specimens == nil {
		return "said"
	}
	return "s"
}

// saying narrows submissions AS s to those of which somebody said something.
func saying(query *gorm.DB, f service.SubmissionFilter, order string) *gorm.DB {
	if order == "said" {
		query = query.Table("said").Joins("JOIN submissions AS s ON s.id = said.submission_id")
	} else {
		query = query.Joins("JOIN said ON said.submission_id = s.id")
	}
	query = query.Where("said.person = ?", f.Judge)
	if bit, known := againstBits[f.Against]; known {
		query = query.Where(fmt.Sprintf("(said.against & %d) <> 0", bit)) // as in its index
	}
	switch f.Said {
	case service.SaidConfirmed:
		return query.Where("said.confirmed > 0")
	case service.SaidDisputed:
		return query.Where("said.disputed > 0")
	case service.SaidAnything:
		return query
	}
	return query.Where("said.opinion = ?", string(f.Said))
}

// within narrows a list to a period.
func within(query *gorm.DB, column string, f service.SubmissionFilter) *gorm.DB {
	if !f.From.IsZero() {
		query = query.Where(column+" >= ?", instantOf(f.From))
	}
	if !f.Until.IsZero() {
		query = query.Where(column+" < ?", instantOf(f.Until))
	}
	return query
}

// closed is written as in the index submissions_doubtful, so that the index serves.
const closed = "s.status NOT IN ('open', 'returned')"

// matching narrows submissions AS s by all of a filter but its text and its doubt.
func matching(query *gorm.DB, f service.SubmissionFilter) *gorm.DB {
	if f.Owner == "" || f.Owner != f.Viewer || f.OfOpened() {
		// A draft, and one withdrawn as a draft, is known to its owner alone.
		query = query.Where("s.opened_at IS NOT NULL")
	}
	if f.Series != "" {
		query = query.Where("s.series = ? AND s.series <> ''", f.Series)
	}
	if f.Parted {
		query = query.Where("s.parted")
	}
	if f.Slips {
		query = query.Where("s.determiner <> s.owner")
	}
	query = narrow(query, "s.owner = ?", f.Owner)
	query = narrow(query, "s.determiner = ?", f.Determiner)
	query = narrow(query, "s.release = ?", f.Release)
	query = narrow(query, "s.specimen_id = ?", f.Specimen)
	if f.Specimens != nil {
		query = query.Where("s.specimen_id IN ?", f.Specimens)
	}
	if f.IDs != nil {
		query = query.Where("s.id IN ?", f.IDs) // a found text has them, too
	}
	query = narrow(query, "s.status = ?", string(f.Status))
	query = narrow(query, "s.group_id = ?", f.Group)
	return narrow(query, "s.family = ?", f.Family)
}

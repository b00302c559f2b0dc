package models

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/migrations"
	"revidit/review"
	"revidit/review/service"
)

// draftRow is a row of drafts. Nothing can make it again, because no event tells of it: Rebuild leaves it alone.
type draftRow struct {
	ID              string `gorm:"primaryKey"`
	Owner           string
	Version         int
	SpecimenID      string
	Status          review.Status
	GroupID         string
	Family          string
	ScientificName  string
	Qualifier       review.Qualifier
	Doubted         review.Rank
	CatalogueNumber string
	Trip            string
	StoragePlace    string
	Photo           string
	Search          string
	ChangedAt       instant
	Slip            bool // the name stands on an old slip
	Body            string
}

func (draftRow) TableName() string { return "drafts" }

func toDraftRow(d review.Draft) (draftRow, error) {
	body, err := json.Marshal(d)
	if err != nil {
		return draftRow{}, fmt.Errorf("encode draft %s: %w", d.ID, err)
	}
	name, s := d.Proposal.Determination, d.Submission()
	row := draftRow{ID: d.ID, Owner: d.Owner, Version: d.Version, SpecimenID: d.Proposal.Specimen, Status: s.Status, GroupID: d.Proposal.Group,
		Family: name.Family, ScientificName: name.ScientificName, Qualifier: name.Qualifier, Doubted: name.Doubted,
		CatalogueNumber: d.Label.CatalogueNumber, Trip: d.Label.Trip, StoragePlace: d.Label.StoragePlace,
		Search: searchable(d.Label.CatalogueNumber, name.Family, name.ScientificName), ChangedAt: instantOf(d.ChangedAt),
		Slip: name.Wording != "" || name.Determiner != d.Owner, Body: string(body)}
	if len(s.Photos) > 0 {
		row.Photo = s.Photos[0]
	}
	return row, nil
}

func (r draftRow) fromRow() (d review.Draft, err error) {
	err = json.Unmarshal([]byte(r.Body), &d)
	if err == nil && d.ID != r.ID {
		err = fmt.Errorf("it is that of %q", d.ID)
	}
	if err != nil {
		return review.Draft{}, review.Fault(review.KindDamaged, fmt.Errorf("decode draft %s: %w", r.ID, err),
			"The draft %s cannot be read. Nothing else is touched: a draft has no history to be made from anew, so ask the keeper of this server for a backup, or write it again.", r.ID)
	}
	d.Version = r.Version
	return d, nil
}

// Draft implements service.Reader.
func (db *DB) Draft(ctx context.Context, owner, id string) (review.Draft, error) {
	return draftOf(db.read(ctx), owner, id)
}

func draftOf(tx *gorm.DB, owner, id string) (review.Draft, error) {
	row, err := find[draftRow](byID(byID(tx, "id", id), "owner", owner), "There is no submission %s.", id)
	if err != nil {
		return review.Draft{}, err
	}
	return row.fromRow()
}

// draftParts are what a batch does to drafts.
type draftParts struct {
	saved     *draftRow
	anew      bool               // there is no row of it yet, whatever its version
	begun     *review.DraftSaved // where the saved one is a first one of a registered specimen
	taken     []string           // uploads
	letGo     []string
	submitted *review.Draft
}

func draftPartsOf(batch review.Batch) (p draftParts, err error) {
	p.submitted = batch.Submitted
	if batch.Draft == nil {
		return p, nil
	}
	row, err := toDraftRow(batch.Draft.Draft)
	p.saved, p.anew, p.taken, p.letGo = &row, row.Version == 1, batch.Draft.Taken, batch.Draft.LetGo
	if p.anew && batch.Draft.Registered {
		p.begun = batch.Draft
	}
	return p, err
}

// storeDraft writes a draft in place of what it was, or removes one that has become a submission. Uploads of the latter are
// free then, and its specimen takes them.
func (db *DB) storeDraft(tx *gorm.DB, p draftParts) error {
	if p.submitted != nil {
		gone := tx.Where("id = ? AND version = ?", p.submitted.ID, p.submitted.Version).Delete(&draftRow{})
		if gone.Error != nil {
			return fmt.Errorf("remove a draft that was submitted: %w", gone.Error)
		}
		if gone.RowsAffected == 0 {
			return service.ErrRace
		}
	}
	if p.saved == nil {
		return nil
	}
	if err := saveDraft(tx, p.saved, p.anew); err != nil {
		return err
	}
	if err := db.assertDrafts(tx, p.begun); err != nil {
		return err
	}
	return takeUploads(tx, p)
}

func saveDraft(tx *gorm.DB, row *draftRow, anew bool) error {
	if anew {
		return insert(tx, "a draft", []draftRow{*row})
	}
	saved := tx.Model(&draftRow{}).Where("id = ? AND version = ?", row.ID, row.Version-1).Select("*").Omit("id", "owner").Updates(row)
	if saved.Error != nil {
		return fmt.Errorf("save a draft: %w", saved.Error)
	}
	if saved.RowsAffected == 0 {
		return service.ErrRace
	}
	return nil
}

// assertDrafts is a lost race where the owner of a draft that is begun has others of the specimen than the act has counted.
// Those who begin some at once take turns from here on.
func (db *DB) assertDrafts(tx *gorm.DB, begun *review.DraftSaved) error {
	if begun == nil {
		return nil
	}
	if db.dialect == migrations.Postgres { // SQLite has one writer anyway
		lock := byID(tx.Clauses(clause.Locking{Strength: "NO KEY UPDATE"}), "id", begun.Owner)
		if err := lock.Find(&[]personRow{}).Error; err != nil {
			return fmt.Errorf("let one person's drafts take turns: %w", err)
		}
	}
	var n int64
	if err := tx.Model(&draftRow{}).Where("specimen_id = ? AND owner = ?", begun.Proposal.Specimen, begun.Owner).Count(&n).Error; err != nil {
		return fmt.Errorf("count somebody's drafts: %w", err)
	}
	if n != int64(begun.Beside+1) {
		return service.ErrRace
	}
	return nil
}

// takeUploads keeps the photos of a draft from expiring, and lets go of those that it has no more.
func takeUploads(tx *gorm.DB, p draftParts) error {
	for _, photo := range slices.Sorted(slices.Values(p.taken)) {
		taken := tx.Model(&uploadRow{}).Where("id = ? AND specimen_id IS NULL AND draft_id IS NULL", photo).Update("draft_id", p.saved.ID)
		if taken.Error != nil {
			return fmt.Errorf("take photo %s into a draft: %w", photo, taken.Error)
		}
		if taken.RowsAffected == 0 {
			return review.Errorf(review.KindConflict, takenMeanwhile, photo)
		}
	}
	if len(p.letGo) == 0 {
		return nil
	}
	if err := tx.Model(&uploadRow{}).Where("draft_id = ? AND id IN ?", p.saved.ID, p.letGo).Update("draft_id", nil).Error; err != nil {
		return fmt.Errorf("let photos of a draft go: %w", err)
	}
	return nil
}

// listsDrafts says whether a list has drafts in it that are rows.
func listsDrafts(f service.SubmissionFilter) bool {
	return f.Owner != "" && f.Owner == f.Viewer && !f.Doubtful && !f.Parted && f.Series == "" && !f.OfOpened() &&
		(f.Status == "" || f.Status == review.StatusDraft || f.Status == review.StatusWithdrawn)
}

const draftColumns = "d.id, d.status, d.group_id, d.family, d.qualifier, d.scientific_name, d.doubted, d.specimen_id, " +
	"COALESCE(sp.catalogue_number, d.catalogue_number) AS catalogue_number, COALESCE(sp.trip, d.trip) AS trip, " +
	"COALESCE(sp.storage_place, d.storage_place) AS storage_place, d.owner, " +
	"COALESCE((SELECT p.name FROM people AS p WHERE p.id = d.owner), '') AS owner_name, d.photo, d.changed_at, " +
	"COALESCE(sp.label_photos, '') AS label_photos, COALESCE(sp.owner, d.owner) AS specimen_owner"

// draftLines are the first of a person's drafts behind a position. Somebody's drafts are few beside what a club has: a text is
// looked for in all of them.
func (db *DB) draftLines(ctx context.Context, f service.SubmissionFilter, after *listPosition, size int) (rows []lineRow, err error) {
	query := db.read(ctx).Table("drafts AS d").Select(draftColumns).Joins("LEFT JOIN specimens AS sp ON sp.id = d.specimen_id").Where("d.owner = ?", f.Owner)
	query = narrow(query, "d.status = ?", string(f.Status))
	query = narrow(query, "d.specimen_id = ?", f.Specimen)
	query = narrow(query, "d.group_id = ?", f.Group)
	query = narrow(query, "d.family = ?", f.Family)
	query = within(query, "d.changed_at", f)
	if f.Slips {
		query = query.Where("d.slip")
	}
	if f.Specimens != nil {
		query = query.Where("d.specimen_id IN ?", f.Specimens)
	}
	if f.Text != "" {
		pattern := like(sought(f.Text))
		query = query.Where(`(d.search LIKE ? ESCAPE '\' OR sp.search LIKE ? ESCAPE '\')`, pattern, pattern)
	}
	if after != nil {
		query = query.Where("(d.changed_at, d.id) < (?, ?)", instantOf(after.ChangedAt.Time), after.ID)
	}
	err = query.Order("d.changed_at DESC, d.id DESC").Limit(size).Scan(&rows).Error
	return rows, err
}

// latestFirst are two lists as one, cut to a size.
func latestFirst(a, b []lineRow, size int) []lineRow {
	all := slices.Concat(a, b)
	slices.SortFunc(all, func(a, b lineRow) int {
		return cmp.Or(b.ChangedAt.Compare(a.ChangedAt.Time), strings.Compare(b.ID, a.ID))
	})
	return all[:min(size, len(all))]
}

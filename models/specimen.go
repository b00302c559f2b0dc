package models

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/review"
	"revidit/review/service"
)

// specimenRow is a row of specimens.
type specimenRow struct {
	ID              string `gorm:"primaryKey"`
	Seq             int
	Owner           string
	CatalogueNumber string
	Trip            string
	StoragePlace    string
	Search          string
	LabelSearch     string // never empty
	LabelPhotos     string // those that show its labels, each id between two spaces
	Source          string // identifier where it was taken in from
	Version         int    // review.RecordVersion
	Body            string
}

func (specimenRow) TableName() string { return "specimens" }

func toSpecimenRow(s review.Specimen) (specimenRow, error) {
	body, err := json.Marshal(s)
	if err != nil {
		return specimenRow{}, fmt.Errorf("encode specimen %s: %w", s.ID, err)
	}
	return specimenRow{ID: s.ID, Seq: s.Seq, Owner: s.Owner, CatalogueNumber: s.Label.CatalogueNumber, Trip: s.Label.Trip,
		StoragePlace: s.Label.StoragePlace, Search: searchable(s.Label.CatalogueNumber), LabelSearch: labelText(&s.Label), LabelPhotos: labelPhotos(&s), Source: sourceOf(&s), Body: string(body)}, nil
}

func sourceOf(s *review.Specimen) string {
	if s.Origin == nil {
		return ""
	}
	return s.Origin.Source
}

// labelText is what of a label is looked for beside the catalogue number.
func labelText(l *review.Label) string {
	return searchable(l.Country, l.Province, l.CollectedFrom, l.CollectedTo, l.Trip, l.Method, l.Habitat, l.Stage, l.Preparation, l.StoragePlace)
}

// searchLabels fills in what is looked for of specimens that were stored before labels were.
func (db *DB) searchLabels(ctx context.Context) error {
	return db.write(ctx, func(tx *gorm.DB) error {
		const atOnce = 500
		for after := ""; ; {
			var rows []specimenRow
			if err := tx.Where("label_search = '' AND id > ?", after).Order("id").Limit(atOnce).Find(&rows).Error; err != nil {
				return fmt.Errorf("read labels: %w", err)
			}
			if len(rows) == 0 {
				return nil
			}
			after = rows[len(rows)-1].ID
			for _, row := range rows {
				s, err := row.fromRow()
				if err != nil {
					continue // Rebuild makes it anew, with its text
				}
				if err := tx.Model(&specimenRow{}).Where("id = ?", row.ID).Update("label_search", labelText(&s.Label)).Error; err != nil {
					return fmt.Errorf("store what is looked for of a label: %w", err)
				}
			}
		}
	})
}

func labelPhotos(s *review.Specimen) string {
	var ids []string
	for _, p := range s.Photos {
		if p.View == review.ViewOfLabels {
			ids = append(ids, p.ID)
		}
	}
	if len(ids) == 0 {
		return ""
	}
	return spaced(ids...)
}

func (r specimenRow) fromRow() (s review.Specimen, err error) {
	err = json.Unmarshal([]byte(r.Body), &s)
	if err == nil && s.ID != r.ID {
		err = fmt.Errorf("it is that of %q", s.ID)
	}
	if err != nil {
		return review.Specimen{}, unreadable("specimen", r.ID, err)
	}
	return s, nil
}

// Specimen implements review.Reader.
func (db *DB) Specimen(ctx context.Context, id string) (review.Specimen, error) {
	row, err := find[specimenRow](byID(db.read(ctx), "id", id), "There is no specimen %s.", id)
	if err != nil {
		return review.Specimen{}, err
	}
	return row.fromRow()
}

// CatalogueNumbers implements review.Reader.
func (db *DB) CatalogueNumbers(ctx context.Context, ids []string) (map[string]string, error) {
	found := map[string]string{}
	if ids = storableIDs(ids); len(ids) == 0 {
		return found, nil
	}
	var rows []specimenRow
	if err := db.read(ctx).Select("id", "catalogue_number").Where("id IN ?", ids).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read some catalogue numbers: %w", err)
	}
	for _, row := range rows {
		found[row.ID] = row.CatalogueNumber
	}
	return found, nil
}

// movedSpecimens counts the events of a batch by the specimen whose record they move.
func movedSpecimens(batch review.Batch) map[string]int {
	of := map[string]string{}
	for _, s := range batch.Specimens {
		of[review.SpecimenStream(s.ID)] = s.ID
	}
	for _, s := range batch.Submissions {
		of[review.SubmissionStream(s.ID)] = s.Specimen
	}
	moved := map[string]int{}
	for _, e := range batch.Events {
		if specimen, ok := of[e.Stream]; ok {
			moved[specimen]++
		}
	}
	return moved
}

// inForce is true where the policy and the release in force are those of a decision. Parameters: policy, group, release.
const inForce = "COALESCE((SELECT max(version) FROM policies), 0) = ? AND " +
	"COALESCE((SELECT hash FROM releases WHERE group_id = ? ORDER BY seq DESC LIMIT 1), '') = ?"

// raiseVersions moves the versions of specimens that there are already, in the order of their ids, so that two acts
// cannot wait for each other. The row of the specimen that a decision rests on is locked and asserted by the same
// statement: whoever comes second, with a new submission of it too, waits and then finds another version.
func raiseVersions(tx *gorm.DB, moved map[string]int, rests *review.Rests) error {
	if rests != nil && len(rests.Versions) == 0 {
		if err := assertInForce(tx, rests); err != nil {
			return err
		}
	}
	for _, id := range slices.Sorted(maps.Keys(moved)) {
		query := byID(tx.Model(&specimenRow{}), "id", id)
		version, asserted := versionIn(rests, id)
		if asserted {
			query = query.Where("version = ?", version).Where(inForce, rests.Policy, rests.Group, rests.Release)
		}
		result := query.Update("version", gorm.Expr("version + ?", moved[id]))
		if result.Error != nil {
			return fmt.Errorf("raise the version of specimen %s: %w", id, result.Error)
		}
		if asserted && result.RowsAffected == 0 {
			return service.ErrRace
		}
	}
	return nil
}

func versionIn(rests *review.Rests, specimen string) (version int, asserted bool) {
	if rests == nil {
		return 0, false
	}
	version, asserted = rests.Versions[specimen]
	return version, asserted
}

// assertInForce is for a decision about a specimen that is not registered yet.
func assertInForce(tx *gorm.DB, rests *review.Rests) error {
	var holds bool
	if err := tx.Raw("SELECT "+inForce, rests.Policy, rests.Group, rests.Release).Scan(&holds).Error; err != nil {
		return fmt.Errorf("read what is in force: %w", err)
	}
	if !holds {
		return service.ErrRace
	}
	return nil
}

// storeSpecimens adds specimens, with the version that their first events make, or puts them in place of older rows, whose
// version raiseVersions has moved.
func storeSpecimens(tx *gorm.DB, rows []specimenRow, moved map[string]int) error {
	for i := range rows {
		rows[i].Version = moved[rows[i].ID]
	}
	newer := onlyNewer("specimens")
	newer.UpdateAll = false
	newer.DoUpdates = clause.AssignmentColumns([]string{"seq", "owner", "catalogue_number", "trip", "storage_place", "search", "label_search", "label_photos", "source", "body"})
	return insert(tx.Clauses(newer), "specimens", rows)
}

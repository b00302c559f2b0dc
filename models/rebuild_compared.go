package models

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"
)

// Difference is what a rebuild found otherwise in a table than the events make it, by the keys of its rows: the parts of a
// key of several columns stand with a slash between them.
type Difference struct {
	Table                   string
	Rows                    int // of the table, as the events make it
	Changed, Added, Removed []string
}

// None says whether nothing differed.
func (d Difference) None() bool { return len(d.Changed)+len(d.Added)+len(d.Removed) == 0 }

// madeTable is a table that Rebuild makes again, with the columns that tell its rows apart.
type madeTable struct {
	table   string
	key     []string
	columns string
}

// rebuilt are all of them. Of uploads it makes one column.
var rebuilt = []madeTable{
	{"specimens", []string{"id"}, "*"},
	{"submissions", []string{"id"}, "*"},
	{"queue_entries", []string{"submission_id", "place"}, "*"},
	{"grounds", []string{"specimen_id", "submission_id"}, "*"},
	{"extracts", []string{"specimen_id", "submission_id"}, "*"},
	{"openings", []string{"specimen_id", "person"}, "*"},
	{"judged", []string{"person", "submission_id"}, "*"},
	{"said", []string{"person", "submission_id"}, "*"},
	{"closings", []string{"group_id", "kind", "at", "subject"}, "*"},
	{"policies", []string{"version"}, "*"},
	{"cell_proposals", []string{"id"}, "*"},
	{"series", []string{"id"}, "*"},
	{"sheets", []string{"id"}, "*"},
	{"printed_labels", []string{"specimen_id", "kind", "submission_id", "person", "nth"}, "*"},
	{"testimonies", []string{"specimen_id", "group_id"}, "*"},
	{"reliabilities", []string{"group_id"}, "*"},
	{"reliability_people", []string{"group_id", "person"}, "*"},
	{"uploads", []string{"id"}, "id, specimen_id"},
	{"proof_tiles", []string{"level", "n"}, "*"},
}

// name is an expression for the name of a row: the parts of its key with slashes between them.
func (t madeTable) name() string {
	parts := make([]string, len(t.key))
	for i, column := range t.key {
		parts[i] = "CAST(" + column + " AS text)"
	}
	return strings.Join(parts, " || '/' || ")
}

// RebuildCompared is Rebuild, and says of each table what differed.
func (db *DB) RebuildCompared(ctx context.Context) (found []Difference, err error) {
	err = db.rebuild(ctx, keepFormer, func(tx *gorm.DB) error {
		found, err = differences(tx)
		return err
	})
	return found, err
}

// keepFormer copies the tables as they are, so that nothing of them has to be held in memory.
func keepFormer(tx *gorm.DB) error {
	for { // what nobody has asked for yet is no difference
		if made, err := completeGrounds(tx); err != nil {
			return err
		} else if made == 0 {
			break
		}
	}
	for {
		if made, err := completeExtracts(tx); err != nil {
			return err
		} else if made == 0 {
			break
		}
	}
	for _, r := range rebuilt {
		if err := tx.Exec(fmt.Sprintf("CREATE TEMPORARY TABLE former_%s AS SELECT %s FROM %[1]s", r.table, r.columns)).Error; err != nil {
			return fmt.Errorf("keep the former %s: %w", r.table, err)
		}
	}
	return nil
}

// differences compares every table with what it was, and drops what was kept.
func differences(tx *gorm.DB) ([]Difference, error) {
	var found []Difference
	for _, r := range rebuilt {
		const except = "SELECT %[1]s FROM (SELECT %[2]s FROM %[3]s EXCEPT SELECT %[2]s FROM %[4]s) AS other ORDER BY 1"
		d, former := Difference{Table: r.table}, "former_"+r.table
		var fresh, gone []string
		err := tx.Raw(fmt.Sprintf(except, r.name(), r.columns, r.table, former)).Scan(&fresh).Error
		if err == nil {
			err = tx.Raw(fmt.Sprintf(except, r.name(), r.columns, former, r.table)).Scan(&gone).Error
		}
		if err == nil {
			err = tx.Raw("SELECT count(*) FROM " + r.table).Scan(&d.Rows).Error
		}
		if err == nil {
			err = tx.Exec("DROP TABLE " + former).Error
		}
		if err != nil {
			return nil, fmt.Errorf("compare the former %s: %w", r.table, err)
		}
		d.split(fresh, gone)
		found = append(found, d)
	}
	return found, nil
}

// split takes the keys of rows that were not there like this before, and of those that are not any more.
func (d *Difference) split(fresh, gone []string) {
	slices.Sort(fresh)
	slices.Sort(gone)
	for _, key := range fresh {
		if _, both := slices.BinarySearch(gone, key); both {
			d.Changed = append(d.Changed, key)
		} else {
			d.Added = append(d.Added, key)
		}
	}
	for _, key := range gone {
		if _, both := slices.BinarySearch(fresh, key); !both {
			d.Removed = append(d.Removed, key)
		}
	}
}

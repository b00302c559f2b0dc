package models

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"revidit/review"
	"revidit/review/service"
)

// nameRow is a row of person_names: a name from one of its words on, folded. It goes when the name is erased.
type nameRow struct {
	Person string `gorm:"primaryKey"`
	Place  int    `gorm:"primaryKey;autoIncrement:false"`
	Start  string
}

func (nameRow) TableName() string { return "person_names" }

// mostWords of a name are looked for.
const mostWords = 10

func toNameRows(p personRow) []nameRow {
	var rows []nameRow
	words := strings.Fields(folded(p.Name))
	for i := range words[:min(len(words), mostWords)] {
		rows = append(rows, nameRow{Person: p.ID, Place: i, Start: strings.Join(words[i:], " ")})
	}
	return rows
}

// storePeople stores people so that they are found by their names.
func storePeople(tx *gorm.DB, people []personRow) error {
	if err := replace(tx, "people", people); err != nil {
		return err
	}
	for _, p := range people {
		if err := tx.Where("person = ?", p.ID).Delete(&nameRow{}).Error; err != nil {
			return fmt.Errorf("replace a name: %w", err)
		}
		if err := insert(tx, "names", toNameRows(p)); err != nil {
			return err
		}
	}
	return nil
}

// spelled is a name as it is looked for: its words, folded.
func spelled(name string) string { return strings.Join(strings.Fields(folded(name)), " ") }

// nameEverybody makes those findable whose names were stored before there were rows for it.
func (db *DB) nameEverybody(ctx context.Context) error {
	return db.write(ctx, func(tx *gorm.DB) error {
		const atOnce = 500
		for {
			var people []personRow
			err := tx.Where("name <> '' AND id NOT IN (SELECT person FROM person_names)").Limit(atOnce).Find(&people).Error
			if err != nil {
				return fmt.Errorf("read names: %w", err)
			}
			people = slices.DeleteFunc(people, func(p personRow) bool { return len(toNameRows(p)) == 0 })
			if len(people) == 0 {
				return nil
			}
			if err := storePeople(tx, people); err != nil {
				return err
			}
		}
	})
}

// FindPeople implements review.Reader. The order is by name without case, the same in both databases.
func (db *DB) FindPeople(ctx context.Context, f service.PeopleFilter, most int) ([]review.Person, error) {
	if most < 1 || most > maxPage {
		return nil, review.Invalidf("size", "must be from 1 to %d", maxPage)
	}
	if err := checkFilter("name", f.Name); err != nil {
		return nil, err
	}
	if f.After != nil && (f.Name != "" || !storable(f.After.Name) || !storable(f.After.ID)) {
		return nil, review.Invalidf("cursor", "is not one of this list")
	}
	query := db.read(ctx).Table("person_names AS n").Select("p.*").Joins("JOIN people AS p ON p.id = n.person").
		Where("EXISTS (SELECT 1 FROM accounts AS a WHERE a.person = n.person)")
	if len(f.Roles) > 0 {
		query = query.Where("p.role IN ?", f.Roles)
	}
	if name := spelled(f.Name); name != "" {
		query = query.Where("n.start >= ? AND n.start < ?", name, name+lastID)
	} else {
		query = query.Where("n.place = 0")
	}
	if f.After != nil {
		query = query.Where("(n.start, n.person) > (?, ?)", spelled(f.After.Name), f.After.ID)
	}
	var rows []personRow
	// Somebody may be found by two words of the name.
	if err := query.Order("n.start, n.person").Limit(2 * most).Scan(&rows).Error; err != nil {
		return nil, fmt.Errorf("find people: %w", err)
	}
	people := []review.Person{}
	for _, row := range rows {
		if !slices.ContainsFunc(people, func(p review.Person) bool { return p.ID == row.ID }) && len(people) < most {
			people = append(people, row.fromRow())
		}
	}
	return people, nil
}

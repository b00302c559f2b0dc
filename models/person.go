package models

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"revidit/review"
)

// personRow is a row of people.
type personRow struct {
	ID   string `gorm:"primaryKey"`
	Name string
	Role review.Role
	// Families is as review.Families has it.
	Families review.Families
}

func (personRow) TableName() string { return "people" }

func toPersonRow(p review.Person) personRow {
	return personRow{ID: p.ID, Name: p.Name, Role: p.Role, Families: review.FamiliesOf(p.Families)}
}

func (r personRow) fromRow() review.Person {
	return review.Person{ID: r.ID, Name: r.Name, Role: r.Role, Families: r.Families.Names()}
}

// People implements review.Reader.
func (db *DB) People(ctx context.Context, ids []string) (map[string]review.Person, error) {
	people := map[string]review.Person{}
	ids = storableIDs(ids)
	if len(ids) == 0 {
		return people, nil
	}
	var rows []personRow
	if err := db.read(ctx).Where("id IN ?", ids).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read people: %w", err)
	}
	for _, row := range rows {
		people[row.ID] = row.fromRow()
	}
	return people, nil
}

// Curators implements service.Reader.
func (db *DB) Curators(ctx context.Context) ([]string, error) {
	ids := []string{}
	err := db.read(ctx).Table("people AS p").Joins("JOIN accounts AS a ON a.person = p.id").
		Where("p.role = 'curator' AND a.disabled = ?", false).Order("p.id").Pluck("p.id", &ids).Error // the role as the index has it
	if err != nil {
		return nil, fmt.Errorf("list curators: %w", err)
	}
	return ids, nil
}

// disabledLooked bounds how many disabled accounts are looked at: the first ones by id, which is by when they were made.
const disabledLooked = 200

// DisabledOwners implements service.Reader. Two statements: in PostgreSQL the two ids are of different collations, so that no
// index serves a join.
func (db *DB) DisabledOwners(ctx context.Context, most int) ([]string, error) {
	var disabled []string
	owners := []string{}
	err := db.read(ctx).Model(&accountRow{}).Where("disabled").Order("person").Limit(disabledLooked).Pluck("person", &disabled).Error
	if err == nil && len(disabled) > 0 {
		err = db.read(ctx).Model(&submissionRow{}).Where("owner IN ? AND status IN ('open', 'returned')", disabled).
			Group("owner").Order("owner").Limit(most).Pluck("owner", &owners).Error
	}
	if err != nil {
		return nil, fmt.Errorf("list disabled accounts of which something waits: %w", err)
	}
	return owners, nil
}

// ErasePerson empties a person's name and removes their account, login and password and address included, and drafts, kept
// forms and news, which nobody else can read. Their acts stay in the history under the id, which by itself tells nothing. It cannot be undone.
func (db *DB) ErasePerson(ctx context.Context, by review.Actor, id, reason string) error {
	if by.Person == "" {
		by = theProgram
	}
	err := db.write(ctx, func(tx *gorm.DB) error {
		if err := endSessions(tx, id, ""); err != nil {
			return err
		}
		if err := eraseAsked(tx, id); err != nil { // while it is known what it may have been
			return err
		}
		if err := eraseFactors(tx, id); err != nil { // which refer to the account
			return err
		}
		if err := removeOf[providerLoginRow](tx, id, "what the account is linked with"); err != nil {
			return err
		}
		if err := byID(tx, "person", id).Delete(&machineTokenRow{}).Error; err != nil {
			return fmt.Errorf("remove the tokens of a machine: %w", err)
		}
		if err := byID(tx, "person", id).Delete(&accountRow{}).Error; err != nil {
			return fmt.Errorf("remove the account: %w", err)
		}
		if err := byID(tx, "person", id).Delete(&nameRow{}).Error; err != nil {
			return fmt.Errorf("erase the name: %w", err)
		}
		if err := byID(tx, "owner", id).Delete(&draftRow{}).Error; err != nil {
			return fmt.Errorf("remove drafts: %w", err)
		}
		if err := byID(tx, "person", id).Delete(&keptFormRow{}).Error; err != nil {
			return fmt.Errorf("remove forms that were kept: %w", err)
		}
		if err := byID(tx, "person", id).Delete(&newsRow{}).Error; err != nil {
			return fmt.Errorf("remove news: %w", err)
		}
		if err := byID(tx, "person", id).Delete(&mailboxRow{}).Error; err != nil {
			return fmt.Errorf("remove the address: %w", err)
		}
		if err := byID(tx, "person", id).Delete(&letterRow{}).Error; err != nil {
			return fmt.Errorf("remove letters: %w", err)
		}
		if err := byID(tx, "person", id).Delete(&savedSearchRow{}).Error; err != nil {
			return fmt.Errorf("remove saved searches: %w", err)
		}
		if err := byID(tx, "person", id).Delete(&visitRow{}).Error; err != nil {
			return fmt.Errorf("remove the first visit: %w", err)
		}
		if err := byID(tx, "person", id).Delete(&accountLinkRow{}).Error; err != nil {
			return fmt.Errorf("remove links of the account: %w", err)
		}
		result := byID(tx.Model(&personRow{}), "id", id).Updates(map[string]any{"name": "", "role": "", "families": ""})
		if result.Error != nil {
			return fmt.Errorf("erase the name: %w", result.Error)
		}
		if result.RowsAffected == 0 {
			return review.Errorf(review.KindNotFound, "There is no person %s. Nothing was erased.", id)
		}
		return recordAccount(tx, by, id, tx.NowFunc(), &review.PersonErased{Reason: reason})
	})
	if err == nil {
		db.sequencer.wake()
	}
	return err
}

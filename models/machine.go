package models

import (
	"context"
	"fmt"
	"time"

	"gorm.io/gorm"

	"revidit/auth"
	"revidit/review"
)

// machineTokenRow is a row of machine_tokens.
type machineTokenRow struct {
	ID        string `gorm:"primaryKey"`
	Person    string
	Digest    string
	Purpose   string
	Scopes    review.Scopes
	CreatedBy string
	CreatedAt instant `gorm:"autoCreateTime:false"`
	ExpiresAt instant
	UsedAt    *instant
	RevokedAt *instant
}

func (machineTokenRow) TableName() string { return "machine_tokens" }

func toMachineTokenRow(t auth.MachineToken) machineTokenRow {
	return machineTokenRow{ID: t.ID, Person: t.Person, Digest: t.Digest, Purpose: t.Purpose, Scopes: t.Scopes, CreatedBy: t.CreatedBy,
		CreatedAt: instantOf(t.CreatedAt), ExpiresAt: instantOf(t.ExpiresAt)}
}

func (r machineTokenRow) fromRow(name string) auth.MachineToken {
	return auth.MachineToken{ID: r.ID, Person: r.Person, Name: name, Purpose: r.Purpose, Scopes: r.Scopes, CreatedBy: r.CreatedBy, CreatedAt: r.CreatedAt.Time,
		ExpiresAt: r.ExpiresAt.Time, LastUsed: timeOrNil(r.UsedAt), RevokedAt: timeOrNil(r.RevokedAt), Digest: r.Digest}
}

// tokenGiven is the event of a token.
func tokenGiven(t auth.MachineToken) *review.TokenGiven {
	var scopes []review.Scope
	for _, s := range review.AllScopes {
		if t.Scopes.Has(s) {
			scopes = append(scopes, s)
		}
	}
	return &review.TokenGiven{Token: t.ID, Scopes: scopes, Expires: t.ExpiresAt, Reason: t.Purpose}
}

// orProgram is who acts, or the program where nobody is named.
func orProgram(by review.Actor) review.Actor {
	if by.Person == "" {
		return theProgram
	}
	return by
}

// CreateMachine implements auth.Store.
func (db *DB) CreateMachine(ctx context.Context, by review.Actor, a auth.Account, t auth.MachineToken) error {
	account, person := toAccountRow(a)
	return db.awake(db.write(ctx, func(tx *gorm.DB) error {
		if err := storePeople(tx, []personRow{person}); err != nil {
			return err
		}
		if err := insert(tx, "an account", []accountRow{account}); err != nil {
			return err
		}
		if err := insert(tx, "a token of a machine", []machineTokenRow{toMachineTokenRow(t)}); err != nil {
			return err
		}
		return recordAccount(tx, orProgram(by), a.Person, a.CreatedAt, &review.AccountAdded{Role: a.Role}, tokenGiven(t))
	}))
}

// awake wakes the sequencer where something was stored.
func (db *DB) awake(err error) error {
	if err == nil {
		db.sequencer.wake()
	}
	return err
}

// AddMachineToken implements auth.Store.
func (db *DB) AddMachineToken(ctx context.Context, by review.Actor, t auth.MachineToken) error {
	return db.awake(db.write(ctx, func(tx *gorm.DB) error {
		if err := lockMachine(tx, t.Person); err != nil {
			return err
		}
		if err := insert(tx, "a token of a machine", []machineTokenRow{toMachineTokenRow(t)}); err != nil {
			return err
		}
		return recordAccount(tx, orProgram(by), t.Person, t.CreatedAt, tokenGiven(t))
	}))
}

// lockMachine raises the version of a machine's account, which keeps others from writing its stream.
func lockMachine(tx *gorm.DB, person string) error {
	result := byID(tx.Model(&accountRow{}), "person", person).Update("version", gorm.Expr("version + 1"))
	if result.Error != nil {
		return fmt.Errorf("change a machine: %w", result.Error)
	}
	if result.RowsAffected == 0 {
		return review.Errorf(review.KindNotFound, "There is no machine %s. Nothing was stored.", person)
	}
	return nil
}

// MachineByToken implements auth.Store.
func (db *DB) MachineByToken(ctx context.Context, id string) (auth.MachineToken, auth.Account, error) {
	row, err := find[machineTokenRow](byID(db.read(ctx), "id", id).Where("revoked_at IS NULL"), "There is no such token.")
	if err != nil {
		return auth.MachineToken{}, auth.Account{}, err
	}
	account, err := db.AccountByPerson(ctx, row.Person)
	if err == nil && account.Disabled {
		err = review.Errorf(review.KindNotFound, "There is no such token.")
	}
	return row.fromRow(account.Name), account, err
}

// UsedMachineToken implements auth.Store.
func (db *DB) UsedMachineToken(ctx context.Context, id string, at time.Time) error {
	if err := byID(db.gorm.WithContext(ctx).Model(&machineTokenRow{}), "id", id).Update("used_at", instantOf(at)).Error; err != nil {
		return fmt.Errorf("note the use of a token: %w", err)
	}
	return nil
}

// RevokeMachineToken implements auth.Store.
func (db *DB) RevokeMachineToken(ctx context.Context, by review.Actor, id, reason string, at time.Time) error {
	return db.awake(db.write(ctx, func(tx *gorm.DB) error {
		row, err := find[machineTokenRow](byID(tx, "id", id), "There is no token %s. Nothing was changed.", id)
		if err != nil {
			return err
		}
		if err := lockMachine(tx, row.Person); err != nil {
			return err
		}
		result := byID(tx.Model(&machineTokenRow{}), "id", id).Where("revoked_at IS NULL").Update("revoked_at", instantOf(at))
		if result.Error != nil {
			return fmt.Errorf("revoke a token: %w", result.Error)
		}
		if result.RowsAffected == 0 {
			return nil // it was before
		}
		return recordAccount(tx, orProgram(by), row.Person, at, &review.TokenRevoked{Token: id, Reason: reason})
	}))
}

// FindMachineTokens implements auth.Store.
func (db *DB) FindMachineTokens(ctx context.Context) ([]auth.MachineToken, error) {
	var rows []struct {
		Token machineTokenRow `gorm:"embedded"`
		Name  string
	}
	err := db.read(ctx).Table("machine_tokens AS t").Select("t.*, p.name").Joins("JOIN people AS p ON p.id = t.person").Order("t.created_at DESC, t.id").Scan(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("list tokens of machines: %w", err)
	}
	tokens := []auth.MachineToken{}
	for _, row := range rows {
		tokens = append(tokens, row.Token.fromRow(row.Name))
	}
	return tokens, nil
}

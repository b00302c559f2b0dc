package models

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/auth"
	"revidit/review"
)

// passkeyRow is a row of passkeys.
type passkeyRow struct {
	ID     string `gorm:"primaryKey"`
	Person string
	Name   string
	Record string
	MadeAt instant
	UsedAt *instant
}

func (passkeyRow) TableName() string { return "passkeys" }

func toPasskeyRow(p auth.Passkey) (passkeyRow, error) {
	record, err := json.Marshal(p.Record)
	if err != nil {
		return passkeyRow{}, fmt.Errorf("encode a passkey: %w", err)
	}
	return passkeyRow{ID: p.ID, Person: p.Person, Name: p.Name, Record: string(record), MadeAt: instantOf(p.MadeAt), UsedAt: instantOrNull(p.UsedAt)}, nil
}

func (r passkeyRow) fromRow() (auth.Passkey, error) {
	p := auth.Passkey{ID: r.ID, Person: r.Person, Name: r.Name, MadeAt: r.MadeAt.Time, UsedAt: timeOrNil(r.UsedAt)}
	if err := json.Unmarshal([]byte(r.Record), &p.Record); err != nil {
		return p, fmt.Errorf("decode passkey %s: %w", r.ID, err)
	}
	return p, nil
}

// codeSecretRow is a row of code_secrets.
type codeSecretRow struct {
	Person      string `gorm:"primaryKey"`
	Sealed      []byte
	LastStep    int64
	MadeAt      instant
	ConfirmedAt *instant
}

func (codeSecretRow) TableName() string { return "code_secrets" }

// recoveryRow is a row of recovery_codes.
type recoveryRow struct{ Person, Digest string }

func (recoveryRow) TableName() string { return "recovery_codes" }

// loginStepRow is a row of login_steps.
type loginStepRow struct {
	Digest    string `gorm:"primaryKey"`
	Kind      auth.StepKind
	Person    string
	Version   int
	Data      string `gorm:"column:ceremony"`
	Way       string
	ProvenAt  *instant
	ExpiresAt instant
}

func (loginStepRow) TableName() string { return "login_steps" }

func (r loginStepRow) fromRow() auth.LoginStep {
	return auth.LoginStep{Digest: r.Digest, Kind: r.Kind, Person: r.Person, Version: r.Version, Data: r.Data,
		Way: r.Way, ProvenAt: timeOrNil(r.ProvenAt), ExpiresAt: r.ExpiresAt.Time}
}

// StoreStep implements auth.Store.
func (db *DB) StoreStep(ctx context.Context, s auth.LoginStep) error {
	row := loginStepRow{s.Digest, s.Kind, s.Person, s.Version, s.Data, s.Way, instantOrNull(s.ProvenAt), instantOf(s.ExpiresAt)}
	return db.write(ctx, func(tx *gorm.DB) error {
		return insert(tx.Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "digest"}}, UpdateAll: true}), "a login that is half done", []loginStepRow{row})
	})
}

func steps(query *gorm.DB, kind auth.StepKind, digest string, now time.Time) *gorm.DB {
	return byID(query, "digest", digest).Where("kind = ? AND expires_at > ?", string(kind), instantOf(now))
}

// ReadStep implements auth.Store.
func (db *DB) ReadStep(ctx context.Context, kind auth.StepKind, digest string, now time.Time) (auth.LoginStep, error) {
	row, err := find[loginStepRow](steps(db.read(ctx), kind, digest, now), "There is no such login.")
	return row.fromRow(), err
}

// TakeStep implements auth.Store.
func (db *DB) TakeStep(ctx context.Context, kind auth.StepKind, digest string, now time.Time) (s auth.LoginStep, err error) {
	err = db.write(ctx, func(tx *gorm.DB) error {
		row, err := find[loginStepRow](steps(tx, kind, digest, now), "There is no such login.")
		if err != nil {
			return err
		}
		s = row.fromRow()
		return useUp(steps(tx, kind, digest, now).Delete(&loginStepRow{}))
	})
	return s, err
}

// Factors implements auth.Store.
func (db *DB) Factors(ctx context.Context, person string) (f auth.Factors, err error) {
	var rows []passkeyRow
	if err := byID(db.read(ctx), "person", person).Order("made_at, id").Find(&rows).Error; err != nil {
		return f, fmt.Errorf("read passkeys: %w", err)
	}
	if f.Passkeys, err = fromRows(rows, passkeyRow.fromRow); err != nil {
		return f, err
	}
	secret, err := find[codeSecretRow](byID(db.read(ctx), "person", person), "There are no one-time codes.")
	if err != nil && review.KindOf(err) != review.KindNotFound {
		return f, err
	}
	f.Sealed, f.LastStep, f.Codes = secret.Sealed, secret.LastStep, secret.ConfirmedAt != nil
	var n int64
	if err := byID(db.read(ctx).Model(&recoveryRow{}), "person", person).Count(&n).Error; err != nil {
		return f, fmt.Errorf("count recovery codes: %w", err)
	}
	f.Recovery = int(n)
	return f, nil
}

// Passkey implements auth.Store.
func (db *DB) Passkey(ctx context.Context, id string) (auth.Passkey, error) {
	row, err := find[passkeyRow](byID(db.read(ctx), "id", id), "There is no such passkey.")
	if err != nil {
		return auth.Passkey{}, err
	}
	return row.fromRow()
}

// AddPasskey implements auth.Store.
func (db *DB) AddPasskey(ctx context.Context, c auth.FactorChange, p auth.Passkey, codes []string) (given bool, err error) {
	row, err := toPasskeyRow(p)
	if err != nil {
		return false, err
	}
	err = db.withLetter(ctx, &c.Letter, func(tx *gorm.DB) error {
		if err := lockAccount(tx, p.Person); err != nil {
			return err
		}
		err := insert(tx, "a passkey", []passkeyRow{row})
		if errors.Is(err, gorm.ErrDuplicatedKey) {
			return review.Errorf(review.KindConflict, "This passkey is registered already. Nothing was stored.")
		}
		if err != nil {
			return err
		}
		given, err = addFactor(tx, c, review.FactorPasskey, codes)
		return err
	})
	return given, err
}

// addFactor notes that an account has a factor, and gives it recovery codes where it has none.
func addFactor(tx *gorm.DB, c auth.FactorChange, kind review.FactorKind, codes []string) (given bool, err error) {
	if err := byID(tx.Model(&accountRow{}), "person", c.Person).Update("second_factor", true).Error; err != nil {
		return false, fmt.Errorf("note a second factor: %w", err)
	}
	var n int64
	if err := byID(tx.Model(&recoveryRow{}), "person", c.Person).Count(&n).Error; err != nil {
		return false, fmt.Errorf("count recovery codes: %w", err)
	}
	if n == 0 {
		if err := insert(tx, "recovery codes", recoveryRows(c.Person, codes)); err != nil {
			return false, err
		}
	}
	return n == 0, recordAccount(tx, c.By, c.Person, tx.NowFunc(), &review.FactorAdded{Factor: kind})
}

func recoveryRows(person string, codes []string) []recoveryRow {
	rows := make([]recoveryRow, len(codes))
	for i, digest := range codes {
		rows[i] = recoveryRow{person, digest}
	}
	return rows
}

// UsePasskey implements auth.Store.
func (db *DB) UsePasskey(ctx context.Context, p auth.Passkey) error {
	row, err := toPasskeyRow(p)
	if err != nil {
		return err
	}
	return db.write(ctx, func(tx *gorm.DB) error {
		return useUp(byID(tx.Model(&passkeyRow{}), "id", p.ID).Updates(map[string]any{"record": row.Record, "used_at": row.UsedAt}))
	})
}

// BeginCodes implements auth.Store.
func (db *DB) BeginCodes(ctx context.Context, person string, sealed []byte, at time.Time) error {
	return db.write(ctx, func(tx *gorm.DB) error {
		if err := byID(tx, "person", person).Where("confirmed_at IS NULL").Delete(&codeSecretRow{}).Error; err != nil {
			return fmt.Errorf("forget former codes: %w", err)
		}
		return insert(tx, "a secret of one-time codes", []codeSecretRow{{Person: person, Sealed: sealed, MadeAt: instantOf(at)}})
	})
}

// ConfirmCodes implements auth.Store.
func (db *DB) ConfirmCodes(ctx context.Context, c auth.FactorChange, step int64, codes []string) (given bool, err error) {
	err = db.withLetter(ctx, &c.Letter, func(tx *gorm.DB) (err error) {
		if err := lockAccount(tx, c.Person); err != nil {
			return err
		}
		result := byID(tx.Model(&codeSecretRow{}), "person", c.Person).Where("confirmed_at IS NULL").
			Updates(map[string]any{"confirmed_at": instantOf(tx.NowFunc()), "last_step": step})
		if err := useUp(result); err != nil {
			return err
		}
		given, err = addFactor(tx, c, review.FactorCodes, codes)
		return err
	})
	return given, err
}

// UseCode implements auth.Store. The row is its own lock: of two who send one code at the same time one is let in.
func (db *DB) UseCode(ctx context.Context, person string, step int64) (used bool, err error) {
	err = db.write(ctx, func(tx *gorm.DB) error {
		result := byID(tx.Model(&codeSecretRow{}), "person", person).Where("confirmed_at IS NOT NULL AND last_step < ?", step).Update("last_step", step)
		used = result.RowsAffected == 1
		return result.Error
	})
	if err != nil {
		return false, fmt.Errorf("use a one-time code: %w", err)
	}
	return used, nil
}

// UseRecovery implements auth.Store.
func (db *DB) UseRecovery(ctx context.Context, person, digest string) (used bool, err error) {
	err = db.write(ctx, func(tx *gorm.DB) error {
		result := byID(tx, "person", person).Where("digest = ?", digest).Delete(&recoveryRow{})
		used = result.RowsAffected == 1
		return result.Error
	})
	if err != nil {
		return false, fmt.Errorf("use a recovery code: %w", err)
	}
	return used, nil
}

// ReplaceRecovery implements auth.Store.
func (db *DB) ReplaceRecovery(ctx context.Context, c auth.FactorChange, codes []string) error {
	return db.withLetter(ctx, &c.Letter, func(tx *gorm.DB) error {
		if err := lockAccount(tx, c.Person); err != nil {
			return err
		}
		if err := removeOf[recoveryRow](tx, c.Person, "recovery codes"); err != nil {
			return err
		}
		if err := insert(tx, "recovery codes", recoveryRows(c.Person, codes)); err != nil {
			return err
		}
		return recordAccount(tx, c.By, c.Person, tx.NowFunc(), &review.RecoveryRenewed{})
	})
}

// removeOf removes the rows of a table that are a person's.
func removeOf[R any](tx *gorm.DB, person, what string) error {
	if err := byID(tx, "person", person).Delete(new(R)).Error; err != nil {
		return fmt.Errorf("remove %s: %w", what, err)
	}
	return nil
}

// RemoveFactor implements auth.Store.
func (db *DB) RemoveFactor(ctx context.Context, c auth.FactorChange, kind review.FactorKind, id string) error {
	person := c.Person
	return db.withLetter(ctx, &c.Letter, func(tx *gorm.DB) error {
		if err := lockAccount(tx, person); err != nil {
			return err
		}
		if err := removeFactor(tx, person, kind, id); err != nil {
			return err
		}
		var passkeys, codes int64
		err := byID(tx.Model(&passkeyRow{}), "person", person).Count(&passkeys).Error
		if err == nil {
			err = byID(tx.Model(&codeSecretRow{}), "person", person).Where("confirmed_at IS NOT NULL").Count(&codes).Error
		}
		if err != nil {
			return fmt.Errorf("count second factors: %w", err)
		}
		if kind == review.FactorPasskey && passkeys == 0 {
			if err := leavesWayIn(tx, person); err != nil {
				return err
			}
		}
		if passkeys+codes == 0 {
			if err := eraseFactors(tx, person); err != nil {
				return err
			}
			if err := byID(tx.Model(&accountRow{}), "person", person).Update("second_factor", false).Error; err != nil {
				return fmt.Errorf("note that there is no second factor: %w", err)
			}
		}
		return recordAccount(tx, c.By, person, tx.NowFunc(), &review.FactorRemoved{Factor: kind, Reason: c.Reason})
	})
}

func removeFactor(tx *gorm.DB, person string, kind review.FactorKind, id string) error {
	switch kind {
	case review.FactorPasskey:
		return useUpFactor(byID(byID(tx, "person", person), "id", id).Delete(&passkeyRow{}))
	case review.FactorCodes:
		return useUpFactor(byID(tx, "person", person).Where("confirmed_at IS NOT NULL").Delete(&codeSecretRow{}))
	case review.FactorAll:
		return eraseFactors(tx, person)
	}
	return review.Errorf(review.KindNotFound, "There is no such second factor. Nothing was changed.")
}

func useUpFactor(result *gorm.DB) error {
	if result.Error != nil {
		return fmt.Errorf("remove a second factor: %w", result.Error)
	}
	if result.RowsAffected == 0 {
		return review.Errorf(review.KindNotFound, "There is no such second factor. Nothing was changed.")
	}
	return nil
}

// eraseFactors removes everything that an account is asked for beside a password.
func eraseFactors(tx *gorm.DB, person string) error {
	return errors.Join(removeOf[passkeyRow](tx, person, "passkeys"), removeOf[codeSecretRow](tx, person, "one-time codes"),
		removeOf[recoveryRow](tx, person, "recovery codes"), removeOf[loginStepRow](tx, person, "half logins"))
}

package models

import (
	"context"
	"errors"
	"fmt"
	"time"

	"gorm.io/gorm"

	"revidit/auth"
	"revidit/review"
)

// providerLoginRow is a row of provider_logins.
type providerLoginRow struct {
	Issuer  string `gorm:"primaryKey"`
	Subject string `gorm:"primaryKey"`
	Person  string
	MadeAt  instant
	UsedAt  *instant
}

func (providerLoginRow) TableName() string { return "provider_logins" }

func (r providerLoginRow) fromRow() auth.ProviderLogin {
	return auth.ProviderLogin{Issuer: r.Issuer, Subject: r.Subject, Person: r.Person, MadeAt: r.MadeAt.Time, UsedAt: timeOrNil(r.UsedAt)}
}

// AccountByProvider implements auth.Store.
func (db *DB) AccountByProvider(ctx context.Context, issuer, subject string, at time.Time) (auth.Account, error) {
	row, err := find[providerLoginRow](byID(byID(db.read(ctx), "issuer", issuer), "subject", subject), "Nobody is linked with this login.")
	if err != nil {
		return auth.Account{}, err
	}
	err = db.write(ctx, func(tx *gorm.DB) error {
		return byID(byID(tx.Model(&providerLoginRow{}), "issuer", issuer), "subject", subject).Update("used_at", instantOf(at)).Error
	})
	if err != nil {
		return auth.Account{}, fmt.Errorf("note that a link with a provider is used: %w", err)
	}
	return db.AccountByPerson(ctx, row.Person)
}

// ProviderLogin implements auth.Store.
func (db *DB) ProviderLogin(ctx context.Context, issuer, person string) (auth.ProviderLogin, error) {
	row, err := find[providerLoginRow](byID(byID(db.read(ctx), "issuer", issuer), "person", person), "This account is linked with no login.")
	return row.fromRow(), err
}

// LinkProvider implements auth.Store.
func (db *DB) LinkProvider(ctx context.Context, by review.Actor, l auth.ProviderLogin) error {
	return db.changeAccount(ctx, func(tx *gorm.DB) error {
		if err := lockAccount(tx, l.Person); err != nil {
			return err
		}
		return storeProviderLogin(tx, by, l)
	})
}

func storeProviderLogin(tx *gorm.DB, by review.Actor, l auth.ProviderLogin) error {
	row := providerLoginRow{Issuer: l.Issuer, Subject: l.Subject, Person: l.Person, MadeAt: instantOf(l.MadeAt), UsedAt: instantOrNull(l.UsedAt)}
	err := insert(tx, "a link with a provider", []providerLoginRow{row})
	if errors.Is(err, gorm.ErrDuplicatedKey) {
		return review.Errorf(review.KindConflict, "Your museum's login, or this account, is linked already. Nothing was changed; log in with it, or unlink it first.")
	}
	if err != nil {
		return err
	}
	return recordAccount(tx, by, l.Person, tx.NowFunc(), &review.ProviderLinked{})
}

// UnlinkProvider implements auth.Store.
func (db *DB) UnlinkProvider(ctx context.Context, by review.Actor, issuer string) error {
	return db.changeAccount(ctx, func(tx *gorm.DB) error {
		if err := lockAccount(tx, by.Person); err != nil {
			return err
		}
		result := byID(byID(tx, "person", by.Person), "issuer", issuer).Delete(&providerLoginRow{})
		if result.Error != nil {
			return fmt.Errorf("unlink an account: %w", result.Error)
		}
		if result.RowsAffected == 0 {
			return review.Errorf(review.KindNotFound, "Your account is linked with no museum's login. Nothing was changed.")
		}
		if err := leavesWayIn(tx, by.Person); err != nil {
			return err
		}
		return recordAccount(tx, by, by.Person, tx.NowFunc(), &review.ProviderUnlinked{})
	})
}

// leavesWayIn refuses a change after which its person cannot get in any more: by a password, a passkey or a provider.
func leavesWayIn(tx *gorm.DB, person string) error {
	account, err := find[accountRow](byID(tx, "person", person), "Person %s has no account. Nothing was changed.", person)
	if err != nil || account.PasswordHash != "" {
		return err
	}
	var passkeys, links int64
	err = byID(tx.Model(&passkeyRow{}), "person", person).Count(&passkeys).Error
	if err == nil {
		err = byID(tx.Model(&providerLoginRow{}), "person", person).Count(&links).Error
	}
	if err != nil {
		return fmt.Errorf("count ways in: %w", err)
	}
	if passkeys+links == 0 {
		return review.Errorf(review.KindConflict, "This is the last way by which you get in. Nothing was changed; set a password first, or add a passkey.")
	}
	return nil
}

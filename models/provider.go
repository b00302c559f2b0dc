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
func (db *DB) LinkProvider(ctx context.Context, by review.Actor, l auth.ProviderLogin, letter review.Letter) error {
	return db.withLetter(ctx, &letter, func(tx *gorm.DB) error {
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

// ProviderLogins implements auth.Store.
func (db *DB) ProviderLogins(ctx context.Context, person string) ([]auth.ProviderLogin, error) {
	var rows []providerLoginRow
	if err := byID(db.read(ctx), "person", person).Order("made_at, issuer").Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("list links with a provider: %w", err)
	}
	logins := []auth.ProviderLogin{}
	for _, r := range rows {
		logins = append(logins, r.fromRow())
	}
	return logins, nil
}

// UnlinkProvider implements auth.Store.
func (db *DB) UnlinkProvider(ctx context.Context, u auth.ProviderUnlink) error {
	return db.withLetter(ctx, &u.Letter, func(tx *gorm.DB) error {
		if err := lockAccount(tx, u.Person); err != nil {
			return err
		}
		links := byID(tx, "person", u.Person)
		if u.Issuer != "" {
			links = byID(links, "issuer", u.Issuer)
		}
		result := links.Delete(&providerLoginRow{})
		if result.Error != nil {
			return fmt.Errorf("unlink an account: %w", result.Error)
		}
		own := u.By.Person == u.Person
		if result.RowsAffected == 0 {
			return notLinked(own)
		}
		left, err := waysIn(tx, u.Person)
		if err != nil {
			return err
		}
		if left == 0 {
			return lastWayIn(own)
		}
		at := tx.NowFunc()
		e, err := recordLast(tx, u.By, review.AccountStream(u.Person), at, &review.ProviderUnlinked{Reason: u.Reason})
		if err != nil || own {
			return err
		}
		if err := endProviderSessions(tx, u.Person); err != nil {
			return err
		}
		news, err := toRows([]review.News{review.LoginTakenOffNews(e, u.Person)}, toNewsRow)
		if err != nil {
			return err
		}
		return storeNews(tx, news)
	})
}

func notLinked(own bool) error {
	if own {
		return review.Errorf(review.KindNotFound, "Your account is linked with no museum's login. Nothing was changed.")
	}
	return review.Errorf(review.KindConflict, "This account is linked with no museum's login any more. Nothing was changed.")
}

func lastWayIn(own bool) error {
	if own {
		return review.Errorf(review.KindConflict, "This is the last way by which you get in. Nothing was changed; set a password first, or add a passkey.")
	}
	return review.Errorf(review.KindConflict, "This is the last way by which the person gets in. Nothing was changed; hand over a link for a password first, and take it off when one is set, or suspend the account.")
}

// leavesWayIn refuses a change after which its person cannot get in any more.
func leavesWayIn(tx *gorm.DB, person string) error {
	left, err := waysIn(tx, person)
	if err == nil && left == 0 {
		err = lastWayIn(true)
	}
	return err
}

// waysIn counts the ways by which a person gets in: a password, passkeys, and logins of a provider.
func waysIn(tx *gorm.DB, person string) (int64, error) {
	account, err := find[accountRow](byID(tx, "person", person), "Person %s has no account. Nothing was changed.", person)
	if err != nil {
		return 0, err
	}
	var passwords, passkeys, links int64
	if account.PasswordHash != "" {
		passwords = 1
	}
	err = byID(tx.Model(&passkeyRow{}), "person", person).Count(&passkeys).Error
	if err == nil {
		err = byID(tx.Model(&providerLoginRow{}), "person", person).Count(&links).Error
	}
	if err != nil {
		return 0, fmt.Errorf("count ways in: %w", err)
	}
	return passwords + passkeys + links, nil
}

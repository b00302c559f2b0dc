package models

import (
	"context"
	"fmt"
	"strings"
	"time"

	"gorm.io/gorm"

	"revidit/auth"
	"revidit/review"
	"revidit/review/service"
)

// accountLinkRow is a row of account_links.
type accountLinkRow struct {
	ID        string `gorm:"primaryKey"`
	Purpose   review.LinkPurpose
	Person    string
	Name      string
	Role      review.Role
	Address   string
	Digest    *string
	Mailed    bool
	MadeBy    string
	MadeAt    instant
	ExpiresAt instant
}

func (accountLinkRow) TableName() string { return "account_links" }

func toAccountLinkRow(l review.AccountLink) accountLinkRow {
	row := accountLinkRow{ID: l.ID, Purpose: l.Purpose, Person: l.Person, Name: l.Name, Role: l.Role, Address: l.Address, Mailed: l.Mailed,
		MadeBy: l.By, MadeAt: instantOf(l.MadeAt), ExpiresAt: instantOf(l.ExpiresAt)}
	if l.Digest != "" {
		row.Digest = &l.Digest
	}
	return row
}

func (r accountLinkRow) fromRow() review.AccountLink {
	l := review.AccountLink{ID: r.ID, Purpose: r.Purpose, Person: r.Person, Name: r.Name, Role: r.Role, Address: r.Address, Mailed: r.Mailed,
		By: r.MadeBy, MadeAt: r.MadeAt.Time, ExpiresAt: r.ExpiresAt.Time}
	if r.Digest != nil {
		l.Digest = *r.Digest
	}
	return l
}

// resetRequestRow is a row of reset_requests.
type resetRequestRow struct {
	ID     string `gorm:"primaryKey"`
	Typed  string
	MadeAt instant
}

func (resetRequestRow) TableName() string { return "reset_requests" }

// withLetter is a transaction that leaves events of accounts and may leave a letter.
func (db *DB) withLetter(ctx context.Context, letter *review.Letter, steps func(tx *gorm.DB) error) error {
	asked := false
	err := db.changeAccount(ctx, func(tx *gorm.DB) (err error) {
		if err := steps(tx); err != nil {
			return err
		}
		asked, err = db.post(ctx, tx, letter)
		return err
	})
	if err == nil && asked {
		db.queue.wake()
	}
	return err
}

// StoreInvitation implements auth.Store.
func (db *DB) StoreInvitation(ctx context.Context, by review.Actor, l review.AccountLink, letter *review.Letter) error {
	return db.withLetter(ctx, letter, func(tx *gorm.DB) error {
		if err := insert(tx, "an invitation", []accountLinkRow{toAccountLinkRow(l)}); err != nil {
			return err
		}
		return recordAccount(tx, by, l.Person, l.MadeAt, &review.Invited{Role: l.Role, Until: l.ExpiresAt})
	})
}

func openLinks(query *gorm.DB, purpose review.LinkPurpose, now time.Time) *gorm.DB {
	return query.Where("purpose = ? AND expires_at > ?", string(purpose), instantOf(now))
}

// Invitations implements auth.Store.
func (db *DB) Invitations(ctx context.Context, now time.Time) ([]review.AccountLink, error) {
	var rows []accountLinkRow
	if err := openLinks(db.read(ctx), review.LinkInvites, now).Order("made_at DESC, id").Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("list invitations: %w", err)
	}
	links := []review.AccountLink{}
	for _, row := range rows {
		links = append(links, row.fromRow())
	}
	return links, nil
}

// Invitation implements auth.Store.
func (db *DB) Invitation(ctx context.Context, id string, now time.Time) (review.AccountLink, error) {
	row, err := find[accountLinkRow](byID(openLinks(db.read(ctx), review.LinkInvites, now), "id", id),
		"There is no such invitation any more: it was followed, taken back, or is too old. Nothing was changed.")
	if err != nil {
		return review.AccountLink{}, err
	}
	return row.fromRow(), nil
}

// HandOverLink implements auth.Store. The row is changed first, which locks it and so the stream of events.
func (db *DB) HandOverLink(ctx context.Context, by review.Actor, l review.AccountLink) error {
	return db.changeAccount(ctx, func(tx *gorm.DB) error {
		row := toAccountLinkRow(l)
		if l.Purpose == review.LinkResets {
			if err := lockAccount(tx, l.Person); err != nil {
				return err
			}
			if err := insert(tx, "a link", []accountLinkRow{row}); err != nil {
				return err
			}
		} else if err := useUp(byID(tx.Model(&accountLinkRow{}), "id", l.ID).Select("*").Updates(&row)); err != nil {
			return err
		}
		return recordAccount(tx, by, l.Person, tx.NowFunc(), &review.LinkHandedOver{Purpose: l.Purpose, Until: l.ExpiresAt})
	})
}

// useUp is what has become of a change of one link: somebody else may have used it meanwhile.
func useUp(result *gorm.DB) error {
	if result.Error != nil {
		return fmt.Errorf("change a link of an account: %w", result.Error)
	}
	if result.RowsAffected == 0 {
		return review.Errorf(review.KindNotFound, "There is no such link any more. Nothing was changed.")
	}
	return nil
}

// TakeBackInvitation implements auth.Store.
func (db *DB) TakeBackInvitation(ctx context.Context, by review.Actor, l review.AccountLink, at time.Time) error {
	return db.changeAccount(ctx, func(tx *gorm.DB) error {
		if err := useUp(byID(tx, "id", l.ID).Delete(&accountLinkRow{})); err != nil {
			return err
		}
		return recordAccount(tx, by, l.Person, at, &review.InvitationTakenBack{})
	})
}

// LinkOf implements auth.Store.
func (db *DB) LinkOf(ctx context.Context, purpose review.LinkPurpose, digest string, now time.Time) (review.AccountLink, error) {
	row, err := find[accountLinkRow](byID(openLinks(db.read(ctx), purpose, now), "digest", digest), "There is no such link.")
	if err != nil {
		return review.AccountLink{}, err
	}
	return row.fromRow(), nil
}

// AcceptInvitation implements auth.Store. Whoever got the link by mail reads mail of that address, which is theirs from then on.
func (db *DB) AcceptInvitation(ctx context.Context, l review.AccountLink, a auth.Account, linked *auth.ProviderLogin) error {
	return db.changeAccount(ctx, func(tx *gorm.DB) error {
		if err := useUp(byID(tx, "id", l.ID).Where("digest = ?", l.Digest).Delete(&accountLinkRow{})); err != nil {
			return err
		}
		self := review.Actor{Person: a.Person, Role: a.Role}
		if err := storeAccount(tx, self, a); err != nil {
			return err
		}
		if linked != nil {
			if err := storeProviderLogin(tx, self, *linked); err != nil {
				return err
			}
		}
		if !l.Mailed {
			return nil
		}
		box := review.Mailbox{Person: a.Person, Version: 1, Address: l.Address, ConfirmedAt: &a.CreatedAt, Rhythm: review.MailNever,
			Codes: review.NewsFor(self), Upto: a.CreatedAt, LookedAt: a.CreatedAt}
		if err := storeMailbox(tx, &box); err != nil {
			return err
		}
		return recordIn(tx, self, review.MailboxStream(a.Person), a.CreatedAt, box.ChangedFrom(review.Mailbox{}))
	})
}

// ResetPassword implements auth.Store.
func (db *DB) ResetPassword(ctx context.Context, l review.AccountLink, hash string, letter review.Letter) error {
	row, err := db.AccountByPerson(ctx, l.Person)
	if err != nil {
		return err
	}
	return db.withLetter(ctx, &letter, func(tx *gorm.DB) error {
		if err := useUp(byID(tx, "id", l.ID).Where("digest = ?", l.Digest).Delete(&accountLinkRow{})); err != nil {
			return err
		}
		if err := lockAccount(tx, l.Person); err != nil {
			return err
		}
		if err := byID(tx.Model(&accountRow{}), "person", l.Person).Update("password_hash", hash).Error; err != nil {
			return fmt.Errorf("set a password: %w", err)
		}
		if err := byID(tx, "person", l.Person).Where("purpose = ?", string(review.LinkResets)).Delete(&accountLinkRow{}).Error; err != nil {
			return fmt.Errorf("remove other links: %w", err)
		}
		if err := endSessions(tx, l.Person, ""); err != nil {
			return err
		}
		return recordAccount(tx, review.Actor{Person: l.Person, Role: row.Role}, l.Person, tx.NowFunc(), &review.PasswordSet{})
	})
}

// AskForReset implements auth.Store.
func (db *DB) AskForReset(ctx context.Context, typed string, letter review.Letter) error {
	return db.withLetter(ctx, &letter, func(tx *gorm.DB) error {
		return insert(tx, "what was asked for another password", []resetRequestRow{{ID: letter.ID, Typed: typed, MadeAt: instantOf(letter.MadeAt)}})
	})
}

// eraseAsked removes what a person may have typed who has asked for another password and is not sent the letter yet.
func eraseAsked(tx *gorm.DB, person string) error {
	err := tx.Exec(`DELETE FROM reset_requests WHERE lower(typed) IN (SELECT lower(login) FROM accounts WHERE person = ?
		UNION SELECT lower(address) FROM mailboxes WHERE person = ?)`, person, person).Error
	if err != nil {
		return fmt.Errorf("remove what was asked for another password: %w", err)
	}
	return nil
}

// ResetRequest implements service.Reader.
func (db *DB) ResetRequest(ctx context.Context, id string) (string, error) {
	row, err := find[resetRequestRow](byID(db.read(ctx), "id", id), "Nobody has asked so.")
	return row.Typed, err
}

// reachableRow is an account with a confirmed address.
type reachableRow struct {
	Person, Login, Name, Address, Language string
	Role                                   review.Role
}

// Reachable implements service.Reader.
func (db *DB) Reachable(ctx context.Context, typed string, most int) ([]service.Reachable, error) {
	if !storable(typed) {
		return nil, nil
	}
	var rows []reachableRow
	err := db.read(ctx).Table("accounts AS a").Select("a.person, a.login, a.language, p.name, p.role, m.address").Joins("JOIN people AS p ON p.id = a.person").
		Joins("JOIN mailboxes AS m ON m.person = a.person AND m.confirmed_at IS NOT NULL AND m.address <> ''").
		Where("a.disabled = ? AND (a.login = ? OR lower(m.address) = ?)", false, loginKey(typed), strings.ToLower(typed)).
		Order("a.login").Limit(most).Scan(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("look who asks for another password: %w", err)
	}
	found := make([]service.Reachable, len(rows))
	for i, r := range rows {
		found[i] = service.Reachable{Person: review.Person{ID: r.Person, Name: r.Name, Role: r.Role}, Login: r.Login, Address: r.Address, Language: r.Language}
	}
	return found, nil
}

// InvitationOf implements service.Reader.
func (db *DB) InvitationOf(ctx context.Context, person string, now time.Time) (review.AccountLink, error) {
	row, err := find[accountLinkRow](byID(openLinks(db.read(ctx), review.LinkInvites, now), "person", person), "%s is not invited any more.", person)
	if err != nil {
		return review.AccountLink{}, err
	}
	return row.fromRow(), nil
}

// MailLink implements service.Store. One that is not there any more is not made again.
func (db *DB) MailLink(ctx context.Context, l review.AccountLink) error {
	return db.write(ctx, func(tx *gorm.DB) error {
		row := toAccountLinkRow(l)
		if l.Purpose == review.LinkInvites {
			return useUp(byID(tx.Model(&accountLinkRow{}), "id", l.ID).Select("*").Updates(&row))
		}
		return insert(tx, "a link", []accountLinkRow{row})
	})
}

// CountResets implements service.Reader.
func (db *DB) CountResets(ctx context.Context, person string, now time.Time) (int, error) {
	var n int64
	err := byID(openLinks(db.read(ctx).Model(&accountLinkRow{}), review.LinkResets, now), "person", person).Count(&n).Error
	if err != nil {
		return 0, fmt.Errorf("count links for another password: %w", err)
	}
	return int(n), nil
}

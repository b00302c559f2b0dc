package models

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/review"
	"revidit/review/service"
)

// mailboxRow is a row of mailboxes.
type mailboxRow struct {
	Person      string `gorm:"primaryKey"`
	Version     int
	Address     string
	ConfirmedAt *instant
	Rhythm      review.MailRhythm
	Codes       string
	Upto        instant
	LookedAt    instant
}

func (mailboxRow) TableName() string { return "mailboxes" }

func toMailboxRow(m review.Mailbox) (mailboxRow, error) {
	codes, err := json.Marshal(append([]review.NewsCode{}, m.Codes...))
	if err != nil {
		return mailboxRow{}, fmt.Errorf("encode what is sent: %w", err)
	}
	return mailboxRow{Person: m.Person, Version: m.Version, Address: m.Address, ConfirmedAt: instantOrNull(m.ConfirmedAt), Rhythm: m.Rhythm,
		Codes: string(codes), Upto: instantOf(m.Upto), LookedAt: instantOf(m.LookedAt)}, nil
}

func (r mailboxRow) fromRow() (review.Mailbox, error) {
	m := review.Mailbox{Person: r.Person, Version: r.Version, Address: r.Address, ConfirmedAt: timeOrNil(r.ConfirmedAt), Rhythm: r.Rhythm,
		Upto: r.Upto.Time, LookedAt: r.LookedAt.Time}
	if err := json.Unmarshal([]byte(r.Codes), &m.Codes); err != nil {
		return m, fmt.Errorf("decode what is sent to %s: %w", r.Person, err)
	}
	return m, nil
}

// Mailbox implements service.Reader.
func (db *DB) Mailbox(ctx context.Context, person string) (review.Mailbox, error) {
	row, err := find[mailboxRow](byID(db.read(ctx), "person", person), "%s has never chosen what is sent.", person)
	if review.KindOf(err) == review.KindNotFound {
		return review.Mailbox{Person: person}, nil
	}
	if err != nil {
		return review.Mailbox{}, err
	}
	return row.fromRow()
}

// storeMailbox puts a mailbox in place of the version before.
func storeMailbox(tx *gorm.DB, m *review.Mailbox) error {
	if m == nil {
		return nil
	}
	row, err := toMailboxRow(*m)
	if err != nil {
		return err
	}
	if m.Version == 1 {
		return insert(tx, "a mailbox", []mailboxRow{row}) // a key that is taken is a race
	}
	result := tx.Model(&mailboxRow{}).Where("person = ? AND version = ?", m.Person, m.Version-1).Select("*").Updates(&row)
	if result.Error != nil {
		return fmt.Errorf("change a mailbox: %w", result.Error)
	}
	if result.RowsAffected == 0 {
		return service.ErrRace
	}
	return nil
}

// storeLooked notes up to where mailboxes were looked through.
func storeLooked(tx *gorm.DB, looked []review.LookedThrough) error {
	for _, l := range looked {
		result := tx.Model(&mailboxRow{}).Where("person = ? AND upto = ?", l.Person, instantOf(l.From)).
			Updates(map[string]any{"upto": instantOf(l.Upto), "looked_at": instantOf(l.At)})
		if result.Error != nil {
			return fmt.Errorf("note what was looked through: %w", result.Error)
		}
		if result.RowsAffected == 0 {
			return service.ErrRace
		}
	}
	return nil
}

// dueMailboxRow is a mailbox with its person.
type dueMailboxRow struct {
	Box  mailboxRow `gorm:"embedded"`
	Name string
	Role review.Role
}

// DueMailboxes implements service.Reader.
func (db *DB) DueMailboxes(ctx context.Context, at, settled time.Time, most int) ([]service.DueMailbox, error) {
	const news = "EXISTS (SELECT 1 FROM news AS n WHERE n.person = m.person AND n.read_at IS NULL AND n.at > m.upto AND n.at <= ?"
	var waiting []review.NewsCode
	for _, code := range review.NewsCodes {
		if code.Waits() {
			waiting = append(waiting, code)
		}
	}
	before := func(rhythm review.MailRhythm) instant { return instantOf(at.Add(-rhythm.Every())) }
	var rows []dueMailboxRow
	err := db.read(ctx).Table("mailboxes AS m").Select("m.*, p.name, p.role").
		Joins("JOIN accounts AS a ON a.person = m.person AND a.disabled = ?", false).Joins("JOIN people AS p ON p.id = m.person").
		Where("m.confirmed_at IS NOT NULL AND m.rhythm <> ?", string(review.MailNever)).
		Where("(m.rhythm = ? AND m.looked_at <= ? OR m.rhythm <> ? AND m.looked_at <= ?) AND "+news+") OR m.rhythm = ? AND "+news+" AND n.code IN ?)",
			string(review.MailWeekly), before(review.MailWeekly), string(review.MailWeekly), before(review.MailDaily), instantOf(settled), string(review.MailAtOnce), instantOf(settled), waiting).
		Order("m.person").Limit(most).Scan(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("look who is due a letter: %w", err)
	}
	return fromRows(rows, func(r dueMailboxRow) (service.DueMailbox, error) {
		box, err := r.Box.fromRow()
		return service.DueMailbox{Mailbox: box, Actor: review.Actor{Person: box.Person, Name: r.Name, Role: r.Role}}, err
	})
}

// letterRow is a row of letters.
type letterRow struct {
	ID     string `gorm:"primaryKey"`
	Person string
	Kind   review.LetterKind
	News   string
	MadeAt instant
	Tries  int
	NextAt *instant // null: it is not tried any more
	SentAt *instant
	Fault  review.LetterFault
}

func (letterRow) TableName() string { return "letters" }

func toLetterRow(l review.Letter) (letterRow, error) {
	news, err := json.Marshal(review.NonNil(l.News))
	if err != nil {
		return letterRow{}, fmt.Errorf("encode a letter: %w", err)
	}
	return letterRow{ID: l.ID, Person: l.Person, Kind: l.Kind, News: string(news), MadeAt: instantOf(l.MadeAt), Tries: l.Tries,
		NextAt: instantOrNull(l.NextAt), SentAt: instantOrNull(l.SentAt), Fault: l.Fault}, nil
}

func (r letterRow) fromRow() (review.Letter, error) {
	l := review.Letter{ID: r.ID, Person: r.Person, Kind: r.Kind, MadeAt: r.MadeAt.Time, Tries: r.Tries, NextAt: timeOrNil(r.NextAt), SentAt: timeOrNil(r.SentAt), Fault: r.Fault}
	if err := json.Unmarshal([]byte(r.News), &l.News); err != nil {
		return l, fmt.Errorf("decode letter %s: %w", r.ID, err)
	}
	return l, nil
}

// WaitingLetters implements service.Reader.
func (db *DB) WaitingLetters(ctx context.Context, at time.Time, most int) ([]review.Letter, error) {
	var rows []letterRow
	if err := db.read(ctx).Where("next_at <= ?", instantOf(at)).Order("next_at, id").Limit(most).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("look for letters to send: %w", err)
	}
	return fromRows(rows, letterRow.fromRow)
}

// LastLetter implements service.Reader.
func (db *DB) LastLetter(ctx context.Context, person string) (review.Letter, error) {
	row, err := find[letterRow](byID(db.read(ctx), "person", person).Order("made_at DESC, id DESC"), "%s was sent no letter.", person)
	if err != nil {
		return review.Letter{}, err
	}
	return row.fromRow()
}

// BeginLetter implements service.Store.
func (db *DB) BeginLetter(ctx context.Context, l review.Letter, at time.Time) (mine bool, err error) {
	err = db.write(ctx, func(tx *gorm.DB) error {
		result := tx.Model(&letterRow{}).Where("id = ? AND tries = ? AND next_at <= ?", l.ID, l.Tries-1, instantOf(at)).
			Updates(map[string]any{"tries": l.Tries, "next_at": instantOrNull(l.NextAt)})
		mine = result.RowsAffected == 1
		return result.Error
	})
	if err != nil {
		return false, fmt.Errorf("begin to send a letter: %w", err)
	}
	return mine, nil
}

// EndLetter implements service.Store.
func (db *DB) EndLetter(ctx context.Context, l review.Letter) error {
	err := db.write(ctx, func(tx *gorm.DB) error {
		row, err := toLetterRow(l)
		if err != nil {
			return err
		}
		err = tx.Model(&letterRow{}).Where("id = ?", l.ID).
			Updates(map[string]any{"next_at": row.NextAt, "sent_at": row.SentAt, "fault": row.Fault}).Error
		if err == nil && l.NextAt == nil { // what was typed has done what it was typed for
			err = byID(tx, "id", l.ID).Delete(&resetRequestRow{}).Error
		}
		return err
	})
	if err != nil {
		return fmt.Errorf("note what has become of a letter: %w", err)
	}
	return nil
}

// storeLetters stores letters that are new.
func storeLetters(tx *gorm.DB, letters []review.Letter) error {
	rows, err := toRows(letters, toLetterRow)
	return errors.Join(err, insert(tx.Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "id"}}, DoNothing: true}), "letters", rows))
}

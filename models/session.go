package models

import (
	"context"
	"fmt"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/auth"
	"revidit/migrations"
	"revidit/review"
)

// sessionRow is a row of sessions.
type sessionRow struct {
	ID        string `gorm:"primaryKey"`
	Person    string
	CreatedAt instant `gorm:"autoCreateTime:false"`
	ExpiresAt instant
}

func (sessionRow) TableName() string { return "sessions" }

// CreateSession implements auth.Store. The account is kept from changing until the session is stored, so that whoever
// disables it, or changes the password, finds the session to end.
func (db *DB) CreateSession(ctx context.Context, s auth.Session, version int) error {
	return db.write(ctx, func(tx *gorm.DB) error {
		query := byID(tx, "person", s.Person).Where("version = ? AND disabled = ?", version, false)
		if db.dialect == migrations.Postgres { // SQLite has one writer anyway
			query = query.Clauses(clause.Locking{Strength: "SHARE"})
		}
		if _, err := find[accountRow](query, "The account has changed since, or is gone. Nothing was stored."); err != nil {
			return err
		}
		return insert(tx, "a session", []sessionRow{{ID: s.ID, Person: s.Person, CreatedAt: instantOf(s.CreatedAt), ExpiresAt: instantOf(s.ExpiresAt)}})
	})
}

// AccountBySession implements auth.Store.
func (db *DB) AccountBySession(ctx context.Context, id string, now time.Time) (auth.Account, error) {
	query := db.accounts(ctx).Joins("JOIN sessions AS s ON s.person = a.person").
		Where("s.expires_at > ? AND a.disabled = ?", instantOf(now), false)
	row, err := find[accountLine](byID(query, "s.id", id), "There is no such session.")
	if err != nil {
		return auth.Account{}, err
	}
	return row.fromRow(), nil
}

// EndSession implements auth.Store.
func (db *DB) EndSession(ctx context.Context, id string) error {
	if err := byID(db.gorm.WithContext(ctx), "id", id).Delete(&sessionRow{}).Error; err != nil {
		return fmt.Errorf("end a session: %w", err)
	}
	return nil
}

// EndSessions implements auth.Store.
func (db *DB) EndSessions(ctx context.Context, person string) error {
	return endSessions(db.gorm.WithContext(ctx), person)
}

func endSessions(tx *gorm.DB, person string) error {
	if err := byID(tx, "person", person).Delete(&sessionRow{}).Error; err != nil {
		return fmt.Errorf("end the sessions of a person: %w", err)
	}
	return nil
}

// attemptRow is a row of login_attempts.
type attemptRow struct {
	Key   string `gorm:"primaryKey"`
	Until int64
}

func (attemptRow) TableName() string { return "login_attempts" }

// TakeAttempt implements auth.Store. Each attempt puts off the time at which all are forgotten; one is refused where that
// time is as far off as the limit allows. The row is its own lock, so that processes that count at the same time do not
// let one more through.
func (db *DB) TakeAttempt(ctx context.Context, key string, limit auth.Limit, now time.Time) (time.Duration, error) {
	wait, err := attemptWait(db.read(ctx), key, limit, now)
	if wait > 0 || err != nil { // without a write, which is what whoever tries too often would have others wait for
		return wait, err
	}
	at, every := now.UnixMicro(), limit.Every.Microseconds()
	result := db.gorm.WithContext(ctx).Exec(`INSERT INTO login_attempts (key, until) VALUES (?, ?) ON CONFLICT (key) DO UPDATE
		SET until = CASE WHEN login_attempts.until > ? THEN login_attempts.until ELSE ? END + ?
		WHERE login_attempts.until <= ?`, key, at+every, at, at, every, latestUntil(limit, now))
	if result.Error != nil {
		return 0, fmt.Errorf("count an attempt to log in: %w", result.Error)
	}
	if result.RowsAffected == 0 { // another took the last one in between
		return attemptWait(db.gorm.WithContext(ctx), key, limit, now)
	}
	return 0, nil
}

// latestUntil is until when attempts may count and another one is let through.
func latestUntil(limit auth.Limit, now time.Time) int64 {
	return now.Add(limit.Every * time.Duration(limit.Burst-1)).UnixMicro()
}

func attemptWait(query *gorm.DB, key string, limit auth.Limit, now time.Time) (time.Duration, error) {
	row, err := find[attemptRow](byID(query, "key", key), "Nobody has tried yet.")
	if review.KindOf(err) == review.KindNotFound {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	return max(0, time.Duration(row.Until-latestUntil(limit, now))*time.Microsecond), nil
}

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

// refreshRow is a row of refresh_tokens.
type refreshRow struct {
	Digest    string `gorm:"primaryKey"`
	Session   string
	CreatedAt instant `gorm:"autoCreateTime:false"`
	UsedAt    *instant
}

func (refreshRow) TableName() string { return "refresh_tokens" }

// AddRefresh implements auth.Store.
func (db *DB) AddRefresh(ctx context.Context, r auth.Refresh) error {
	return insert(db.gorm.WithContext(ctx), "a refresh token", []refreshRow{{Digest: r.Digest, Session: r.Session, CreatedAt: instantOf(r.CreatedAt)}})
}

// UseRefresh implements auth.Store. The session is locked first, so that of two who use the same token at once one is the second.
func (db *DB) UseRefresh(ctx context.Context, digest string, next auth.Refresh) (auth.Session, auth.Account, error) {
	var s auth.Session
	var account auth.Account
	var again error
	err := db.write(ctx, func(tx *gorm.DB) error {
		s, account, again = auth.Session{}, auth.Account{}, nil
		known, err := find[refreshRow](byID(tx, "digest", digest), "There is no such refresh token.")
		if err != nil {
			return err
		}
		held, err := find[sessionRow](db.locked(byID(tx, "id", known.Session)), "There is no such session.")
		if err != nil {
			return err
		}
		line, err := find[accountLine](byID(accountsIn(tx), "a.person", held.Person), "There is no such account.")
		if err != nil {
			return err
		}
		account = line.fromRow()
		now := instantOf(next.CreatedAt)
		taken := tx.Model(&refreshRow{}).Where("digest = ? AND used_at IS NULL", digest).Update("used_at", now)
		if taken.Error != nil {
			return fmt.Errorf("take a refresh token: %w", taken.Error)
		}
		if taken.RowsAffected == 0 {
			again = auth.ErrUsedBefore
			return byID(tx, "id", held.ID).Delete(&sessionRow{}).Error
		}
		if account.Disabled || !held.ExpiresAt.After(now.Time) {
			return review.Errorf(review.KindNotFound, "There is no such session.")
		}
		s = auth.Session{ID: held.ID, Person: held.Person, CreatedAt: held.CreatedAt.Time, ExpiresAt: held.ExpiresAt.Time}
		return insert(tx, "a refresh token", []refreshRow{{Digest: next.Digest, Session: held.ID, CreatedAt: now}})
	})
	if err == nil {
		err = again
	}
	return s, account, err
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

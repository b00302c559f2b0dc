package models

import (
	"context"
	"fmt"
	"time"

	"gorm.io/gorm"

	"revidit/auth"
	"revidit/review"
)

// sessionRow is a row of sessions.
type sessionRow struct {
	ID        string `gorm:"primaryKey"`
	Person    string
	CreatedAt instant `gorm:"autoCreateTime:false"`
	ExpiresAt instant
	SeenAt    instant
	Browser   string
	Way       string
	ProvenAt  *instant
}

func (sessionRow) TableName() string { return "sessions" }

func toSessionRow(s auth.Session) sessionRow {
	row := sessionRow{ID: s.ID, Person: s.Person, CreatedAt: instantOf(s.CreatedAt), ExpiresAt: instantOf(s.ExpiresAt), SeenAt: instantOf(s.SeenAt), Browser: s.Browser,
		Way: s.Way, ProvenAt: instantOrNull(s.ProvenAt)}
	if s.SeenAt.Before(s.CreatedAt) { // it counts as used when it begins
		row.SeenAt = row.CreatedAt
	}
	return row
}

func (r sessionRow) fromRow() auth.Session {
	return auth.Session{ID: r.ID, Person: r.Person, CreatedAt: r.CreatedAt.Time, ExpiresAt: r.ExpiresAt.Time, SeenAt: r.SeenAt.Time, Browser: r.Browser,
		Way: r.Way, ProvenAt: timeOrNil(r.ProvenAt)}
}

// CreateSession implements auth.Store. The account is kept from changing until the session is stored, so that whoever
// disables it, or changes the password, finds the session to end.
func (db *DB) CreateSession(ctx context.Context, s auth.Session, version int) error {
	return db.write(ctx, func(tx *gorm.DB) error {
		query := byID(tx.Model(&accountRow{}), "person", s.Person).Where("version = ? AND disabled = ?", version, false)
		row := toSessionRow(s)
		result := query.Update("seen_at", row.SeenAt) // which locks it
		if result.Error != nil {
			return fmt.Errorf("note that an account is used: %w", result.Error)
		}
		if result.RowsAffected == 0 {
			return review.Errorf(review.KindNotFound, "The account has changed since, or is gone. Nothing was stored.")
		}
		if err := insert(tx, "a session", []sessionRow{row}); err != nil {
			return err
		}
		return endSurplus(tx, s.Person)
	})
}

// endSurplus ends the logins of a person that are more than they may have, those not used for longest.
func endSurplus(tx *gorm.DB, person string) error {
	var surplus []string
	err := byID(tx.Model(&sessionRow{}), "person", person).Order("seen_at DESC, created_at DESC, id").Offset(auth.MostSessions).Limit(auth.MostSessions).Pluck("id", &surplus).Error
	if err == nil && len(surplus) > 0 {
		err = tx.Where("id IN ?", surplus).Delete(&sessionRow{}).Error
	}
	if err != nil {
		return fmt.Errorf("end logins of a person with too many: %w", err)
	}
	return nil
}

// sessionLine is a session joined with its account and person.
type sessionLine struct {
	Line    accountLine `gorm:"embedded"`
	Session sessionRow  `gorm:"embedded;embeddedPrefix:s_"`
}

// AccountBySession implements auth.Store.
func (db *DB) AccountBySession(ctx context.Context, id string, now, idle time.Time) (auth.Account, auth.Session, error) {
	query := db.accounts(ctx).Joins("JOIN sessions AS s ON s.person = a.person").
		Select(accountColumns+", s.id AS s_id, s.person AS s_person, s.created_at AS s_created_at, s.expires_at AS s_expires_at, s.seen_at AS s_seen_at, s.browser AS s_browser, s.way AS s_way, s.proven_at AS s_proven_at").
		Where("s.expires_at > ? AND s.seen_at >= ? AND a.disabled = ?", instantOf(now), instantOf(idle), false)
	row, err := find[sessionLine](byID(query, "s.id", id), "There is no such session.")
	if err != nil {
		return auth.Account{}, auth.Session{}, err
	}
	return row.Line.fromRow(), row.Session.fromRow(), nil
}

// SeeSession implements auth.Store. Of two requests at the same time one writes.
func (db *DB) SeeSession(ctx context.Context, s auth.Session, at, since time.Time) error {
	return db.write(ctx, func(tx *gorm.DB) error {
		result := byID(tx.Model(&sessionRow{}), "id", s.ID).Where("seen_at <= ?", instantOf(since)).Update("seen_at", instantOf(at))
		if result.Error == nil && result.RowsAffected > 0 {
			result = byID(tx.Model(&accountRow{}), "person", s.Person).Update("seen_at", instantOf(at))
		}
		if result.Error != nil {
			return fmt.Errorf("note that a login is used: %w", result.Error)
		}
		return nil
	})
}

// Sessions implements auth.Store.
func (db *DB) Sessions(ctx context.Context, person string, now, idle time.Time) ([]auth.Session, error) {
	var rows []sessionRow
	err := byID(db.read(ctx), "person", person).Where("expires_at > ? AND seen_at >= ?", instantOf(now), instantOf(idle)).Order("seen_at DESC, id").Find(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("list logins: %w", err)
	}
	sessions := []auth.Session{}
	for _, row := range rows {
		sessions = append(sessions, row.fromRow())
	}
	return sessions, nil
}

// EndSession implements auth.Store.
func (db *DB) EndSession(ctx context.Context, id string) error {
	if err := byID(db.gorm.WithContext(ctx), "id", id).Delete(&sessionRow{}).Error; err != nil {
		return fmt.Errorf("end a session: %w", err)
	}
	return nil
}

// EndSessions implements auth.Store.
func (db *DB) EndSessions(ctx context.Context, person, keep string) error {
	return endSessions(db.gorm.WithContext(ctx), person, keep)
}

func endSessions(tx *gorm.DB, person, keep string) error {
	if err := byID(tx, "person", person).Where("id <> ?", keep).Delete(&sessionRow{}).Error; err != nil {
		return fmt.Errorf("end the sessions of a person: %w", err)
	}
	return nil
}

// endProviderSessions ends the logins of a person that have begun with a museum's login.
func endProviderSessions(tx *gorm.DB, person string) error {
	if err := byID(tx, "person", person).Where("way IN ?", []string{auth.ByProvider, auth.BySecondProvider}).Delete(&sessionRow{}).Error; err != nil {
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

// UseRefresh implements auth.Store. The account is locked first, as everywhere, so that of two who use the same token at once one is the
// second, and that this is an event.
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
		of, err := find[sessionRow](byID(tx, "id", known.Session), "There is no such session.")
		if err != nil {
			return err
		}
		if _, err := find[accountRow](db.locked(byID(tx, "person", of.Person)), "There is no such account."); err != nil {
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
			if err := byID(tx, "id", held.ID).Delete(&sessionRow{}).Error; err != nil {
				return fmt.Errorf("end a session: %w", err)
			}
			return recordAccount(tx, theProgram, held.Person, now.Time, &review.RefreshUsedTwice{})
		}
		if account.Disabled || !held.ExpiresAt.After(now.Time) {
			return review.Errorf(review.KindNotFound, "There is no such session.")
		}
		// A program is idle between two of its refresh tokens, however long that takes.
		if err := tx.Model(&sessionRow{}).Where("id = ?", held.ID).Update("seen_at", now).Error; err != nil {
			return fmt.Errorf("note that a login is used: %w", err)
		}
		s = auth.Session{ID: held.ID, Person: held.Person, CreatedAt: held.CreatedAt.Time, ExpiresAt: held.ExpiresAt.Time, SeenAt: now.Time, Browser: held.Browser}
		return insert(tx, "a refresh token", []refreshRow{{Digest: next.Digest, Session: held.ID, CreatedAt: now}})
	})
	if err == nil && again != nil {
		db.sequencer.wake()
		err = again
	}
	return s, account, err
}

// RefreshUsedTwice implements auth.Store.
func (db *DB) RefreshUsedTwice(ctx context.Context, person string, since time.Time) (*time.Time, error) {
	var rows []eventRow
	stream := review.AccountStream(person)
	if !storable(stream) {
		return nil, nil
	}
	err := db.read(ctx).Where("stream = ? AND kind = ? AND at >= ?", stream, (*review.RefreshUsedTwice)(nil).EventKind(), instantOf(since)).Order("seq DESC").Limit(1).Find(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("look whether a refresh token was used twice: %w", err)
	}
	if len(rows) == 0 {
		return nil, nil
	}
	return &rows[0].At.Time, nil
}

// EndSessionsBy implements auth.Store.
func (db *DB) EndSessionsBy(ctx context.Context, by review.Actor, person, reason string) error {
	return db.changeAccount(ctx, func(tx *gorm.DB) error {
		if err := lockAccount(tx, person); err != nil {
			return err
		}
		if err := endSessions(tx, person, ""); err != nil {
			return err
		}
		return recordAccount(tx, by, person, tx.NowFunc(), &review.SessionsEnded{Reason: reason})
	})
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

package models

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/review"
	"revidit/review/service"
)

// newsRow is a row of news. What was told is in no event, nor whether it was read: Rebuild leaves news alone.
type newsRow struct {
	ID         string `gorm:"primaryKey"`
	Person     string
	Code       review.NewsCode
	GroupID    string
	Submission string
	Specimen   string
	Proposal   string
	Actor      string
	At         instant
	About      string
	ReadAt     *instant
}

func (newsRow) TableName() string { return "news" }

func toNewsRow(n review.News) (newsRow, error) {
	about, err := json.Marshal(n.About)
	if err != nil {
		return newsRow{}, fmt.Errorf("encode news: %w", err)
	}
	return newsRow{ID: n.ID, Person: n.Person, Code: n.Code, GroupID: n.Group, Submission: n.Submission, Specimen: n.Specimen, Proposal: n.Proposal,
		Actor: n.Actor, At: instantOf(n.At), About: string(about), ReadAt: instantOrNull(n.ReadAt)}, nil
}

func (r newsRow) fromRow() (review.News, error) {
	n := review.News{ID: r.ID, Person: r.Person, Code: r.Code, Group: r.GroupID, Submission: r.Submission, Specimen: r.Specimen, Proposal: r.Proposal,
		Actor: r.Actor, At: r.At.Time, ReadAt: timeOrNil(r.ReadAt)}
	if err := json.Unmarshal([]byte(r.About), &n.About); err != nil {
		return n, fmt.Errorf("decode news %s: %w", r.ID, err)
	}
	return n, nil
}

// storeNews adds what was not told yet.
func storeNews(tx *gorm.DB, rows []newsRow) error {
	return insert(tx.Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "id"}}, DoNothing: true}), "news", rows)
}

// newsPosition is where a page of FindNews has ended.
type newsPosition struct {
	At instant `json:"at"`
	ID string  `json:"id"`
}

func (p *newsPosition) valid() bool { return !p.At.IsZero() && p.ID != "" && storable(p.ID) }

// newsLineRow is news with what is joined to it.
type newsLineRow struct {
	News            newsRow `gorm:"embedded"`
	CatalogueNumber string
	Status          review.Status
	Family          string
	Owner           string
	ProposalStatus  review.ProposalStatus
}

// toldTo narrows news AS n by a filter.
func toldTo(query *gorm.DB, f service.NewsFilter) *gorm.DB {
	query = query.Where("n.person = ?", f.Person).Where("n.code IN ?", f.Codes)
	if f.Unread {
		query = query.Where("n.read_at IS NULL")
	}
	if f.After != nil {
		query = query.Where("n.at > ?", instantOf(*f.After))
	}
	if f.Before != nil {
		query = query.Where("n.at <= ?", instantOf(*f.Before))
	}
	if f.IDs != nil {
		query = query.Where("n.id IN ?", storableIDs(f.IDs))
	}
	return query
}

// FindNews implements service.Reader. The list is cut before anything is joined to it.
func (db *DB) FindNews(ctx context.Context, f service.NewsFilter, page service.Page) ([]service.NewsLine, string, error) {
	if err := checkSize(page); err != nil || !storable(f.Person) || len(f.Codes) == 0 {
		return []service.NewsLine{}, "", err
	}
	list := toldTo(db.read(ctx).Table("news AS n").Select("n.*"), f)
	if page.Cursor != "" {
		var after newsPosition
		if err := decodeCursor(page.Cursor, &after); err != nil {
			return nil, "", err
		}
		list = list.Where("(n.at, n.id) < (?, ?)", instantOf(after.At.Time), after.ID)
	}
	list = list.Order("n.at DESC, n.id DESC").Limit(page.Size + 1)
	var rows []newsLineRow
	err := db.read(ctx).Table("(?) AS line", list).
		Select("line.*, COALESCE(sp.catalogue_number, '') AS catalogue_number, COALESCE(s.status, '') AS status, COALESCE(s.family, '') AS family, " +
			"COALESCE(s.owner, sp.owner, '') AS owner, COALESCE(p.status, '') AS proposal_status").
		Joins("LEFT JOIN submissions AS s ON s.id = line.submission").Joins("LEFT JOIN specimens AS sp ON sp.id = line.specimen").
		Joins("LEFT JOIN cell_proposals AS p ON p.id = line.proposal").Order("line.at DESC, line.id DESC").Scan(&rows).Error
	if err != nil {
		return nil, "", fmt.Errorf("list news: %w", err)
	}
	next := ""
	if len(rows) > page.Size {
		rows = rows[:page.Size]
		last := rows[page.Size-1].News
		if next, err = encodeCursor(newsPosition{At: last.At, ID: last.ID}); err != nil {
			return nil, "", err
		}
	}
	lines, err := fromRows(rows, newsLineRow.fromRow)
	return lines, next, err
}

func (r newsLineRow) fromRow() (service.NewsLine, error) {
	n, err := r.News.fromRow()
	return service.NewsLine{News: n, CatalogueNumber: r.CatalogueNumber, Status: r.Status, Family: r.Family, Owner: r.Owner, ProposalStatus: r.ProposalStatus}, err
}

// CountNews implements service.Reader.
func (db *DB) CountNews(ctx context.Context, f service.NewsFilter) (n int, err error) {
	if !storable(f.Person) || len(f.Codes) == 0 {
		return 0, nil
	}
	f.Unread = true
	list := toldTo(db.read(ctx).Table("news AS n").Select("1 AS one"), f).Limit(service.MostNewsCounted + 1)
	if err := db.read(ctx).Table("(?) AS counted", list).Select("count(*)").Scan(&n).Error; err != nil {
		return 0, fmt.Errorf("count news: %w", err)
	}
	return n, nil
}

// ReadNews implements service.Store.
func (db *DB) ReadNews(ctx context.Context, person, id string, at time.Time) (review.News, error) {
	row, err := find[newsRow](byID(byID(db.read(ctx), "id", id), "person", person), "There is no such news, or it is a year old and gone.")
	if err != nil {
		return review.News{}, err
	}
	if row.ReadAt == nil {
		row.ReadAt = instantOrNull(&at)
		err = db.write(ctx, func(tx *gorm.DB) error {
			return tx.Model(&newsRow{}).Where("id = ? AND read_at IS NULL", row.ID).Update("read_at", row.ReadAt).Error
		})
	}
	if err != nil {
		return review.News{}, fmt.Errorf("note that news was read: %w", err)
	}
	return row.fromRow()
}

// ReadNewsUntil implements service.Store.
func (db *DB) ReadNewsUntil(ctx context.Context, person string, until, at time.Time) error {
	err := db.write(ctx, func(tx *gorm.DB) error {
		return byID(tx.Model(&newsRow{}), "person", person).Where("read_at IS NULL AND at <= ?", instantOf(until)).Update("read_at", instantOf(at)).Error
	})
	if err != nil {
		return fmt.Errorf("note that news was read: %w", err)
	}
	return nil
}

// ReadNewsOf implements service.Store.
func (db *DB) ReadNewsOf(ctx context.Context, person, submission string, until, at time.Time) error {
	err := db.write(ctx, func(tx *gorm.DB) error {
		of := byID(byID(tx.Model(&newsRow{}), "person", person), "submission", submission)
		return of.Where("read_at IS NULL AND at <= ?", instantOf(until)).Update("read_at", instantOf(at)).Error
	})
	if err != nil {
		return fmt.Errorf("note that news of a submission was read: %w", err)
	}
	return nil
}

package models

import (
	"context"
	"math"
	"strings"

	"gorm.io/gorm"

	"revidit/migrations"
	"revidit/review/service"
)

// No index has both, what texts contain and the order of a list. So what is common is found among the newest of the list,
// what is rare by the index of texts, and what is neither by a longer look at the newest. A catalogue number that is typed
// whole finds what bears it and nothing else: all its characters are common, so that neither would find it soon.
const (
	fewNewest  = 300
	manyNewest = 8000
	// fewFound is how many an index may find before it pays to look through many of the newest first.
	fewFound = 1500
)

// listedByText is listed where the filter has a text.
func (db *DB) listedByText(ctx context.Context, f service.SubmissionFilter, after *listPosition, size int) ([]lineRow, error) {
	rows, borne, err := db.listedByNumber(ctx, f, after, size)
	if err != nil || borne {
		return rows, err
	}
	return db.listedByPart(ctx, f, after, size)
}

// listedByNumber are those of specimens whose whole catalogue number is the text. borne: the list has such at all, on this
// page or before it.
func (db *DB) listedByNumber(ctx context.Context, f service.SubmissionFilter, after *listPosition, size int) (rows []lineRow, borne bool, err error) {
	bearing := db.read(ctx).Raw("SELECT s.id, 0 AS counted FROM specimens AS sp JOIN submissions AS s ON s.specimen_id = sp.id WHERE sp.search = ?",
		searchable(f.Text))
	rows, _, err = db.linesOf(ctx, db.first(ctx, f, after, size, bearing), size)
	if err != nil || len(rows) > 0 || after == nil {
		return rows, len(rows) > 0, err
	}
	earlier, _, err := db.linesOf(ctx, db.first(ctx, f, nil, 1, bearing), 1)
	return nil, len(earlier) > 0, err
}

// listedByPart are those with texts that contain the text.
func (db *DB) listedByPart(ctx context.Context, f service.SubmissionFilter, after *listPosition, size int) ([]lineRow, error) {
	rows, enough, err := db.amongNewest(ctx, f, after, size, fewNewest)
	if err != nil || enough {
		return rows, err
	}
	if n := len(rows); n > 0 && 2*size*fewNewest/n <= manyNewest { // so many should hold a page
		if rows, enough, err = db.amongNewest(ctx, f, after, size, 2*size*fewNewest/n); err != nil || enough {
			return rows, err
		}
	}
	rows, found, err := db.linesOf(ctx, db.first(ctx, f, after, size, db.containing(ctx, f.Text, fewFound+1)), size)
	if err != nil || len(rows) > 0 && found <= fewFound {
		return rows, err
	}
	if found > fewFound {
		if rows, enough, err = db.amongNewest(ctx, f, after, size, manyNewest); err != nil || enough {
			return rows, err
		}
	}
	rows, _, err = db.linesOf(ctx, db.first(ctx, f, after, size, db.containing(ctx, f.Text, math.MaxInt32)), size)
	return rows, err
}

// amongNewest are those with the text among the newest of a list. enough: there are as many as asked for, or the list has
// no more.
func (db *DB) amongNewest(ctx context.Context, f service.SubmissionFilter, after *listPosition, size, newest int) (rows []lineRow, enough bool, err error) {
	inOrder := db.read(ctx).Table("(?) AS first", db.first(ctx, f, after, newest, nil)).Select("id, changed_at, specimen_id, search").Order("changed_at DESC, id DESC").Limit(newest)
	looked := db.read(ctx).Table("(?) AS newest", inOrder).Select("newest.*, count(*) OVER () AS counted")
	pattern := like(sought(f.Text))
	chosen := db.read(ctx).Table("(?) AS list", looked).Select("list.id, list.counted").
		Where(`(list.search LIKE ? ESCAPE '\' OR (SELECT sp.search || sp.label_search FROM specimens AS sp WHERE sp.id = list.specimen_id) LIKE ? ESCAPE '\')`, pattern, pattern).
		Order("list.changed_at DESC, list.id DESC").Limit(size)
	list := db.read(ctx).Table("(?) AS chosen", chosen).Joins("JOIN submissions AS s ON s.id = chosen.id").Select(firstColumns + ", chosen.counted")
	rows, counted, err := db.linesOf(ctx, list, size)
	return rows, len(rows) == size || len(rows) > 0 && counted < newest, err
}

// containing are the ids of submissions that have a text, or of which the specimen has, by the index of texts, with how
// many were found: at most some of each kind.
func (db *DB) containing(ctx context.Context, text string, most int) *gorm.DB {
	const counted = "SELECT id, count(*) OVER () AS counted FROM ("
	text = sought(text)
	if db.dialect == migrations.Postgres {
		has := func(text string) string {
			return " WHERE trigrams(" + text + ") @> trigrams(?) AND " + text + ` LIKE ? ESCAPE '\' LIMIT ?`
		}
		return db.read(ctx).Raw(counted+"(SELECT id FROM submissions"+has("search")+") UNION "+
			"SELECT s.id FROM (SELECT id FROM specimens"+has("(search || label_search)")+") AS sp JOIN submissions AS s ON s.specimen_id = sp.id) AS found",
			text, like(text), most, text, like(text), most)
	}
	const numbers = "(SELECT rowid AS number FROM trigrams WHERE trigrams MATCH ? LIMIT ?) AS t JOIN searched AS n ON n.number = t.number"
	phrase := `"` + strings.ReplaceAll(text, `"`, `""`) + `"`
	return db.read(ctx).Raw(counted+"SELECT n.submission_id AS id FROM "+numbers+" WHERE n.submission_id IS NOT NULL UNION "+
		"SELECT s.id FROM "+numbers+" JOIN submissions AS s ON s.specimen_id = n.specimen_id) AS found", phrase, most, phrase, most)
}

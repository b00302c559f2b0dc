package models

import (
	"context"
	"encoding/json"
	"fmt"
	"unicode/utf8"

	"gorm.io/gorm"

	"revidit/review"
)

// releaseRow is a row of releases. Body is the release without its files.
type releaseRow struct {
	Hash      string `gorm:"primaryKey"`
	GroupID   string
	Version   string
	Seq       int
	Publisher string
	At        instant
	Body      string
	Files     string // JSON object: text by name
}

func (releaseRow) TableName() string { return "releases" }

func toReleaseRow(r review.Release) (releaseRow, error) {
	row, err := withoutFiles(r)
	if err != nil {
		return releaseRow{}, err
	}
	if len(r.Files) == 0 {
		return releaseRow{}, fmt.Errorf("release %s has no files", r.Hash)
	}
	for name, text := range r.Files {
		if !utf8.ValidString(name) || !utf8.ValidString(text) { // JSON would change it without an error
			return releaseRow{}, fmt.Errorf("release %s: %q is no UTF-8 text", r.Hash, name)
		}
	}
	files, err := json.Marshal(r.Files)
	if err != nil {
		return releaseRow{}, fmt.Errorf("encode the files of release %s: %w", r.Hash, err)
	}
	row.Files = string(files)
	return row, nil
}

// withoutFiles is the row that the event of a release tells, which is all but the files.
func withoutFiles(r review.Release) (releaseRow, error) {
	body, err := json.Marshal(r)
	if err != nil {
		return releaseRow{}, fmt.Errorf("encode release %s: %w", r.Hash, err)
	}
	return releaseRow{Hash: r.Hash, GroupID: r.Group, Version: r.Version, Seq: r.Seq, Publisher: r.By, At: instantOf(r.At), Body: string(body)}, nil
}

func (r releaseRow) fromRow() (release review.Release, err error) {
	if err := json.Unmarshal([]byte(r.Body), &release); err != nil {
		return review.Release{}, unreadableRelease(r.Hash, err)
	}
	if r.Files == "" { // a list, which leaves them out
		return release, nil
	}
	if err := json.Unmarshal([]byte(r.Files), &release.Files); err != nil {
		return review.Release{}, unreadableRelease(r.Hash, fmt.Errorf("files: %w", err))
	}
	return release, nil
}

// unreadableRelease: names would settle by other tables in its place, and Rebuild cannot make it anew, as no event holds files.
func unreadableRelease(hash string, cause error) error {
	return review.Fault(review.KindDamaged, fmt.Errorf("decode release %s: %w", hash, cause),
		"The stored release %s of the tables cannot be read. No other tables are taken in its place, and revidit rebuild cannot make it anew, since the history holds no files: the keeper of this server restores the table of releases from a backup.", hash)
}

// CurrentRelease implements review.Reader.
func (db *DB) CurrentRelease(ctx context.Context, group string) (string, error) {
	var hashes []string
	err := byID(db.read(ctx).Model(&releaseRow{}), "group_id", group).Order("seq DESC").Limit(1).Pluck("hash", &hashes).Error
	if err != nil {
		return "", fmt.Errorf("find the release in force: %w", err)
	}
	if len(hashes) == 0 {
		return "", nil
	}
	return hashes[0], nil
}

// Release implements review.Reader. The files are as they were stored; that they give the hash is for whoever loads them
// to check.
func (db *DB) Release(ctx context.Context, hash string) (review.Release, error) {
	row, err := find[releaseRow](byID(db.read(ctx), "hash", hash), "There is no release %s of tables.", hash)
	if err != nil {
		return review.Release{}, err
	}
	return row.fromRow()
}

// Releases implements review.Reader.
func (db *DB) Releases(ctx context.Context, group string) ([]review.Release, error) {
	var rows []releaseRow
	if err := byID(db.read(ctx), "group_id", group).Omit("Files").Order("seq DESC").Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("list releases: %w", err)
	}
	return fromRows(rows, releaseRow.fromRow)
}

// checkReleases compares the releases with the events that tell of them. They cannot be made again, because events do
// not hold their files; a difference is damage, for which there is only the backup.
func checkReleases(tx *gorm.DB, streams [][]review.Event) error {
	for _, events := range streams {
		for _, e := range events {
			published, ok := e.Change.(*review.TablesReleased)
			if !ok {
				return fmt.Errorf("%s: event %d is %T, not that of a release", e.Stream, e.Seq, e.Change)
			}
			if err := checkRelease(tx, e, published.Release); err != nil {
				return err
			}
		}
	}
	return nil
}

func checkRelease(tx *gorm.DB, e review.Event, r review.Release) error {
	const advice = "Nothing was changed; restore the table of releases from a backup"
	var rows []releaseRow
	if err := byID(tx, "hash", r.Hash).Omit("Files").Find(&rows).Error; err != nil {
		return fmt.Errorf("read release %s: %w", r.Hash, err)
	}
	if len(rows) == 0 {
		return fmt.Errorf("%s: event %d published release %s, but its files are missing. %s", e.Stream, e.Seq, r.Hash, advice)
	}
	told, err := withoutFiles(r)
	if err != nil {
		return err
	}
	stored, err := rows[0].reencoded()
	if err != nil {
		return err
	}
	if stored != told || e.Stream != review.TablesStream(r.Group) || e.Seq != r.Seq {
		return fmt.Errorf("%s: event %d and the stored release %s differ. %s", e.Stream, e.Seq, r.Hash, advice)
	}
	return nil
}

// reencoded is a row with the body as this program writes it, which may have fields that the one that stored it had not.
func (r releaseRow) reencoded() (releaseRow, error) {
	release, err := r.fromRow()
	if err != nil {
		return r, err
	}
	again, err := withoutFiles(release)
	r.Body = again.Body
	return r, err
}

// checkUnpublished refuses a release that no event tells of.
func checkUnpublished(tx *gorm.DB) error {
	var hashes []string
	const noEvent = "NOT EXISTS (SELECT 1 FROM events AS e WHERE e.stream = 'tables/' || releases.group_id AND e.seq = releases.seq)"
	err := tx.Model(&releaseRow{}).Where(noEvent).Order("hash").Limit(1).Pluck("hash", &hashes).Error
	if err != nil {
		return fmt.Errorf("look for releases without events: %w", err)
	}
	if len(hashes) > 0 {
		return fmt.Errorf("release %s is stored, but no event published it. Nothing was changed; restore the database from a backup", hashes[0])
	}
	return nil
}

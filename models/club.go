package models

import (
	"context"
	"fmt"

	"gorm.io/gorm/clause"
)

// Club says which club a database is of.
type Club struct {
	ID string // empty where the database has not been told yet
	// Settled: the photo folder and the key file have carried the id.
	Settled bool
	// Empty: it holds nobody, no event and no photo.
	Empty bool
	// Photos are the SHA-256, in hex, of some photos that it knows, at most ten; they are looked for while it has no id alone.
	Photos []string
}

// clubRow is the one row of club.
type clubRow struct {
	One     int `gorm:"primaryKey;autoIncrement:false"`
	ID      string
	Settled bool
}

func (clubRow) TableName() string { return "club" }

// Club reads which club this database is of.
func (db *DB) Club(ctx context.Context) (Club, error) {
	var rows []clubRow
	if err := db.read(ctx).Limit(1).Find(&rows).Error; err != nil {
		return Club{}, fmt.Errorf("read which club this is: %w", err)
	}
	var used bool
	const anything = "SELECT EXISTS (SELECT 1 FROM people) OR EXISTS (SELECT 1 FROM events) OR EXISTS (SELECT 1 FROM uploads)"
	if err := db.read(ctx).Raw(anything).Scan(&used).Error; err != nil {
		return Club{}, fmt.Errorf("look whether the database is empty: %w", err)
	}
	club := Club{Empty: !used, Photos: []string{}}
	if len(rows) > 0 {
		club.ID, club.Settled = rows[0].ID, rows[0].Settled
		return club, nil
	}
	const some = 10
	if err := db.read(ctx).Model(&uploadRow{}).Order("at DESC, id").Limit(some).Pluck("sha256", &club.Photos).Error; err != nil { // goes through all
		return Club{}, fmt.Errorf("look for photos: %w", err)
	}
	return club, nil
}

// NameClub gives an id to a database that has none, and returns the one that it has then: of two processes that do it at the
// same time one is heard.
func (db *DB) NameClub(ctx context.Context, id string) (string, error) {
	row := clubRow{One: 1, ID: id}
	if err := db.gorm.WithContext(ctx).Clauses(clause.OnConflict{DoNothing: true}).Create(&row).Error; err != nil {
		return "", fmt.Errorf("name the club: %w", err)
	}
	club, err := db.Club(ctx)
	return club.ID, err
}

// SettleClub notes that the photo folder and the key file carry the id of the club.
func (db *DB) SettleClub(ctx context.Context) error {
	if err := db.gorm.WithContext(ctx).Model(&clubRow{}).Where("one = 1").Update("settled", true).Error; err != nil {
		return fmt.Errorf("note that photo folder and key carry the club's id: %w", err)
	}
	return nil
}

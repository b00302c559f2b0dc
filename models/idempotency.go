package models

import (
	"context"

	"revidit/review"
)

// keyRow is a row of idempotency_keys.
type keyRow struct {
	Person string `gorm:"primaryKey"`
	Key    string `gorm:"primaryKey"`
	Digest string
	Made   string
	At     instant
}

func (keyRow) TableName() string { return "idempotency_keys" }

func toKeyRow(k review.IdempotencyKey) keyRow {
	return keyRow{Person: k.Person, Key: k.Key, Digest: k.Digest, Made: k.Made, At: instantOf(k.At)}
}

// Served implements service.Reader.
func (db *DB) Served(ctx context.Context, person, key string) (made, digest string, err error) {
	query := byID(byID(db.read(ctx), "person", person), "key", key)
	row, err := find[keyRow](query, "This idempotency key has not been used.")
	if err != nil {
		return "", "", err
	}
	return row.Made, row.Digest, nil
}

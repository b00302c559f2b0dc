package models

import (
	"context"

	"revidit/review"
)

// keyRow is a row of idempotency_keys.
type keyRow struct {
	Person       string `gorm:"primaryKey"`
	Key          string `gorm:"primaryKey"`
	Digest       string
	SubmissionID string
	At           instant
}

func (keyRow) TableName() string { return "idempotency_keys" }

func toKeyRow(k review.IdempotencyKey) keyRow {
	return keyRow{Person: k.Person, Key: k.Key, Digest: k.Digest, SubmissionID: k.Submission, At: instantOf(k.At)}
}

// SubmissionOfKey implements review.Reader.
func (db *DB) SubmissionOfKey(ctx context.Context, person, key string) (submission, digest string, err error) {
	query := byID(byID(db.read(ctx), "person", person), "key", key)
	row, err := find[keyRow](query, "This idempotency key has not been used.")
	if err != nil {
		return "", "", err
	}
	return row.SubmissionID, row.Digest, nil
}

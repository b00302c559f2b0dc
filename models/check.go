package models

import (
	"context"
	"fmt"
	"strings"

	"revidit/migrations"
	"revidit/review"
)

// CheckPart implements service.Reader. A part is a table of an SQLite file with its indexes: the whole file at once would
// keep a reader, and with it the log, for as long as that takes. PostgreSQL sees to its own files.
func (db *DB) CheckPart(ctx context.Context, after string) (part string, problems []string, err error) {
	if db.dialect == migrations.Postgres {
		return "", nil, nil
	}
	var tables []string
	const next = "SELECT name FROM sqlite_schema WHERE type = 'table' AND name > ? ORDER BY name LIMIT 1"
	if err := db.read(ctx).Raw(next, after).Scan(&tables).Error; err != nil {
		return "", nil, fmt.Errorf("list tables: %w", err)
	}
	if len(tables) == 0 {
		return "", nil, nil
	}
	part = tables[0]
	err = db.read(ctx).Raw(`PRAGMA quick_check("` + strings.ReplaceAll(part, `"`, `""`) + `")`).Scan(&problems).Error
	if review.KindOf(err) == review.KindDamaged { // so much so that the check itself breaks off
		return part, []string{err.Error()}, nil
	}
	if err != nil {
		return "", nil, fmt.Errorf("check table %s: %w", part, err)
	}
	if len(problems) == 1 && problems[0] == "ok" {
		problems = nil
	}
	return part, problems, nil
}

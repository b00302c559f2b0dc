package models

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"revidit/migrations"
	"revidit/review"
)

// CheckPart implements service.Reader. A part is a table of an SQLite file with its indexes: the whole file at once would
// keep a reader, and with it the log, for as long as that takes. PostgreSQL sees to its own files. The first part, on both, are the triggers that keep
// what is never changed from being changed: whoever owns the tables can drop or disable them.
func (db *DB) CheckPart(ctx context.Context, after string) (part string, damages []review.Coded, err error) {
	if after == "" {
		damages, err := db.checkGuards(ctx)
		return guardsPart, damages, err
	}
	if db.dialect == migrations.Postgres {
		return "", nil, nil
	}
	if after == guardsPart {
		after = ""
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
	problems, err := db.quickCheck(ctx, part)
	// Damage may be so great that the check itself breaks off, or show only when its transaction ends.
	err = faultOf(err, nothingStored)
	if review.KindOf(err) == review.KindDamaged {
		return part, []review.Coded{review.Code("found-damaged", "part", part)}, nil
	}
	if err != nil {
		return "", nil, fmt.Errorf("check table %s: %w", part, err)
	}
	if len(problems) == 1 && problems[0] == "ok" {
		problems = nil
	}
	for _, p := range problems {
		damages = append(damages, review.Code("found-part", "part", part, "words", p))
	}
	return part, damages, nil
}

// quickCheck asks SQLite about one table. The index of texts is searched first, by the same connection: its check goes by what the
// connection remembers of the index, which only a search brings up to date, and calls what others have written since corrupt (SQLite
// 3.54.1; TestCheckWhileTextsAreIndexed).
func (db *DB) quickCheck(ctx context.Context, table string) (problems []string, err error) {
	err = db.read(ctx).Transaction(func(tx *gorm.DB) error {
		if table == textIndex {
			var found []int64
			if err := tx.Raw("SELECT rowid FROM trigrams WHERE trigrams MATCH ? LIMIT 1", `"   "`).Scan(&found).Error; err != nil {
				return err
			}
		}
		return tx.Raw(`PRAGMA quick_check("` + strings.ReplaceAll(table, `"`, `""`) + `")`).Scan(&problems).Error
	})
	return problems, err
}

// textIndex is SQLite's index of texts (0010).
const textIndex = "trigrams"

// guardsPart is the name of the part that is no table.
const guardsPart = "triggers"

// kept are the tables of which nothing is ever changed.
var kept = []string{"events", "event_positions", "releases", "checkpoints"}

// checkGuards names the triggers that are missing or disabled.
func (db *DB) checkGuards(ctx context.Context) (damages []review.Coded, err error) {
	list, ways := "SELECT name FROM sqlite_schema WHERE type = 'trigger'", []string{"update", "delete", "replace"}
	if db.dialect == migrations.Postgres {
		list = "SELECT tgname FROM pg_trigger AS t JOIN pg_class AS c ON c.oid = t.tgrelid WHERE c.relnamespace = current_schema()::regnamespace AND tgenabled <> 'D'"
		ways = []string{"update", "delete", "truncate"}
	}
	var there []string
	if err := db.read(ctx).Raw(list).Scan(&there).Error; err != nil {
		return nil, fmt.Errorf("list triggers: %w", err)
	}
	for _, table := range kept {
		for _, way := range ways {
			if name := table + "_refuse_" + way; !slices.Contains(there, name) {
				damages = append(damages, review.Code("found-trigger", "trigger", name))
			}
		}
	}
	return damages, nil
}

// Package migrations holds the SQL that makes the database schema, one folder a dialect, and applies it in order. It
// knows nothing of the rest of the program, so that an old migration goes on building whatever changes there.
package migrations

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"

	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"
)

// Dialects that there are migrations for.
const (
	SQLite   = "sqlite"
	Postgres = "postgres"
)

//go:embed sqlite/*.sql postgres/*.sql
var files embed.FS

// ErrBehind is wrapped by Check where the database lacks migrations of this program, ErrNewer where it has some that
// this program does not know.
var (
	ErrBehind = errors.New("the database schema is behind this program")
	ErrNewer  = errors.New("the database schema is newer than this program")
)

// Apply brings a database to the newest schema; one that has it already stays as it is. Each migration is a transaction
// of its own. On PostgreSQL processes that do it at the same time wait for each other.
func Apply(ctx context.Context, db *sql.DB, dialect string) error {
	provider, err := newProvider(db, dialect)
	if err != nil {
		return err
	}
	current, target, err := provider.GetVersions(ctx)
	if err != nil {
		return fmt.Errorf("read the schema version: %w", err)
	}
	if current > target {
		return Newer("schema", current, target)
	}
	if _, err := provider.Up(ctx); err != nil {
		return fmt.Errorf("migrate the database: %w", err)
	}
	return nil
}

// ApplyUntil brings an empty database to the schema that an earlier program, or this one, had as its version.
func ApplyUntil(ctx context.Context, db *sql.DB, dialect string, version int64) error {
	provider, err := newProvider(db, dialect)
	if err != nil {
		return err
	}
	current, target, err := provider.GetVersions(ctx)
	if err != nil {
		return fmt.Errorf("read the schema version: %w", err)
	}
	if version > target {
		return Newer("schema", version, target)
	}
	if current > version {
		return fmt.Errorf("the database has a newer schema (version %d) than what is to be put into it (%d). Nothing was changed; make an empty database", current, version)
	}
	if _, err := provider.UpTo(ctx, version); err != nil {
		return fmt.Errorf("migrate the database: %w", err)
	}
	return nil
}

// Check returns an error that wraps ErrBehind or ErrNewer, and says what to do, unless the schema is the one that this
// program was built for.
func Check(ctx context.Context, db *sql.DB, dialect string) error {
	provider, err := newProvider(db, dialect)
	if err != nil {
		return err
	}
	current, target, err := provider.GetVersions(ctx)
	if err != nil {
		return fmt.Errorf("read the schema version: %w", err)
	}
	if current > target {
		return Newer("schema", current, target)
	}
	if current < target {
		return Behind("schema", current, target)
	}
	return nil
}

// Behind is the error for a part of the database that lacks migrations; what names the part.
func Behind(what string, current, target int64) error {
	return fmt.Errorf("%w (%s version %d, needed %d). Nothing was changed. Make a backup and run: revidit migrate",
		ErrBehind, what, current, target)
}

// Newer is the error for a part of the database that has migrations which this program does not know.
func Newer(what string, current, target int64) error {
	return fmt.Errorf("%w (%s version %d, known %d). Nothing was changed. Use the program that wrote it, or a newer one; "+
		"\"revidit migrate\" only goes forward, so to go back restore the backup made before the upgrade", ErrNewer, what, current, target)
}

func newProvider(db *sql.DB, dialect string) (*goose.Provider, error) {
	options := []goose.ProviderOption{goose.WithDisableGlobalRegistry(true)}
	var gooseDialect goose.Dialect
	switch dialect {
	case SQLite:
		gooseDialect = goose.DialectSQLite3
	case Postgres:
		gooseDialect = goose.DialectPostgres
		locker, err := lock.NewPostgresSessionLocker()
		if err != nil {
			return nil, fmt.Errorf("prepare migrations: %w", err)
		}
		options = append(options, goose.WithSessionLocker(locker))
	default:
		return nil, fmt.Errorf("there are no migrations for %q", dialect)
	}
	folder, err := fs.Sub(files, dialect)
	if err != nil {
		return nil, fmt.Errorf("prepare migrations: %w", err)
	}
	provider, err := goose.NewProvider(gooseDialect, db, folder, options...)
	if err != nil {
		return nil, fmt.Errorf("prepare migrations: %w", err)
	}
	return provider, nil
}

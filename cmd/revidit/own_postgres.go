package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"revidit/models"
	"revidit/models/pgserver"
)

// onOwnPostgres starts a PostgreSQL for a measurement, with the newest schema and nothing in it, in a folder of its own, and removes both
// when what used them has ended.
func onOwnPostgres(ctx context.Context, bench string, use func(folder string, db *models.DB) error) (err error) {
	folder, err := os.MkdirTemp("", "revidit-"+bench+"-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	if err := os.Chmod(folder, 0o755); err != nil { // PostgreSQL runs as another user
		return err
	}
	server, err := pgserver.Start(ctx, pgserver.Options{Parent: folder})
	if err != nil {
		return fmt.Errorf("bench %s needs the programs of PostgreSQL; nothing was measured: %w", bench, err)
	}
	defer func() { err = errors.Join(err, server.Stop()) }()
	db, err := models.Open(ctx, server.URL)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	if err := db.Migrate(ctx); err != nil {
		return err
	}
	return use(folder, db)
}

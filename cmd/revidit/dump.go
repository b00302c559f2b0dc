package main

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"

	"revidit/models"
)

type dumpCommand struct {
	placeFlags
	File string `arg:"" help:"File to write: a line of canonical JSON for each row, tables and rows in a fixed order." type:"path"`
}

// Run writes what rebuild makes, so that it can be compared with a dump of another time or database. A file that is there is not replaced.
func (c *dumpCommand) Run(ctx context.Context, on console) error {
	return c.withDB(ctx, func(db *models.DB) (err error) {
		file, err := newFile(c.File)
		if err != nil {
			return err
		}
		defer func() {
			err = errors.Join(err, file.Sync(), file.Close())
			if err != nil {
				err = errors.Join(err, os.Remove(c.File))
			}
		}()
		digest := sha256.New()
		told := func(table string, rows int) {
			fmt.Fprintf(on.out, "%-18s %7d %s\n", table, rows, plural(rows, "row", "rows"))
		}
		if err := db.Dump(ctx, io.MultiWriter(file, digest), told); err != nil {
			return err
		}
		fmt.Fprintf(on.out, "SHA-256 of %s: %x\n", c.File, digest.Sum(nil))
		return nil
	})
}

package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"revidit/models"
	"revidit/review"
	"revidit/review/proof"
	"revidit/review/service"
)

type exportCommand struct {
	clubFlags
	File   string `arg:"" help:"File to write: a line of canonical JSON for each event, with all checkpoints." type:"path"`
	Leaves string `help:"File for the list of the events' hashes. Kept elsewhere, it is enough to tell later which event was altered." type:"path" placeholder:"FILE"`
}

// Run brings the tree up to the last event, signs it, and writes everything up to there. Files that are there are not replaced.
func (c *exportCommand) Run(ctx context.Context, on console) error {
	return c.with(ctx, func(club club) error {
		if err := club.signNow(ctx); err != nil {
			return err
		}
		newest, err := c.write(ctx, club.db, newProgress(on, "Writing events"))
		if err != nil {
			return err
		}
		fmt.Fprintf(on.out, "%s holds %d %s.\n", c.File, newest.Size, plural(int(newest.Size), "event", "events"))
		fmt.Fprintf(on.out, "Check it with: revidit verify %s --key %s\n", c.File, newest.Key)
		fmt.Fprintln(on.out, proof.OfPersons)
		fmt.Fprintln(on.out, "The key proves something only to those who have it from elsewhere than from this file.")
		return nil
	})
}

func (c *exportCommand) write(ctx context.Context, db *models.DB, told func(done, all int)) (newest review.SignedCheckpoint, err error) {
	file, err := newFile(c.File)
	if err != nil {
		return newest, err
	}
	files := []*os.File{file}
	defer func() {
		for _, f := range files {
			err = errors.Join(err, f.Sync(), f.Close())
			if err != nil {
				err = errors.Join(err, os.Remove(f.Name()))
			}
		}
	}()
	var leaves io.Writer // stays nil where no list is wanted
	if c.Leaves != "" {
		list, err := newFile(c.Leaves)
		if err != nil {
			return newest, err
		}
		files, leaves = append(files, list), list
	}
	return service.ExportLog(ctx, db, file, leaves, told)
}

func newFile(place string) (*os.File, error) {
	file, err := os.OpenFile(place, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, os.ErrExist) {
		return nil, fmt.Errorf("%s is there already and was left as it is; name another file", place)
	}
	return file, err
}

// numberTime is how long is waited until what was stored has its position: transactions under way in whatever database of the
// server keep it waiting.
const numberTime = 10 * time.Second

// signNow brings the tree up to the last event that has a position, and signs it.
func (c club) signNow(ctx context.Context) error {
	if err := numbered(ctx, c.db); err != nil {
		return err
	}
	return c.service.SignNow(ctx)
}

func numbered(ctx context.Context, db *models.DB) error {
	for until := time.Now().Add(numberTime); time.Now().Before(until); {
		left, err := db.NumberEvents(ctx)
		if err != nil || !left {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(50 * time.Millisecond):
		}
	}
	return nil // what waits comes later
}

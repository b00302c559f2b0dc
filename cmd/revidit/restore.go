package main

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"revidit/migrations"
	"revidit/models"
	"revidit/models/bag"
	"revidit/review"
	"revidit/review/proof"
	"revidit/review/service"
)

type restoreCommand struct {
	placeFlags
	Copy       string   `arg:"" help:"Folder of one copy that revidit backup has made." type:"path"`
	Keys       string   `help:"File of the keys that backup --keys has copied; without it everybody has to log in again." type:"existingfile" placeholder:"FILE"`
	Digest     string   `help:"Digest that backup printed for this copy: one with another digest is refused." placeholder:"SHA256"`
	Key        []string `help:"Public key of the club, from elsewhere than the copy: its history must be signed by it." placeholder:"KEY"`
	Checkpoint []string `help:"File of a checkpoint that was kept elsewhere: the history of the copy must hold it." type:"existingfile" placeholder:"FILE"`
	Check      bool     `help:"Read all of the copy, say whether it is whole, and restore nothing."`
	// held is how many events of the restored history are what was signed; filled: a database on a server has something of the copy in it.
	held   int64
	filled bool
}

// Run puts a copy into an empty place. Nothing is made before all of it has been read and found to be what it was.
func (c *restoreCommand) Run(ctx context.Context, io console) error {
	from, facts, err := c.read(ctx, io)
	if err != nil {
		return err
	}
	if c.Check {
		fmt.Fprintf(io.out, "The copy is whole: %d %s and %d %s, as of %s. Its digest is %s.\n", facts.Events, plural(int(facts.Events), "event", "events"),
			facts.Photos, plural(facts.Photos, "file of photos", "files of photos"), facts.Made.Format(time.RFC3339), from.Digest)
		return nil
	}
	if err := c.empty(ctx, facts); err != nil {
		return err
	}
	if err := c.restore(ctx, from, facts); err != nil {
		return err
	}
	c.tell(io, facts)
	return nil
}

// read verifies the copy.
func (c *restoreCommand) read(ctx context.Context, io console) (from *bag.Bag, facts backupFacts, err error) {
	if from, err = bag.Open(c.Copy); err != nil {
		return nil, facts, refusedCopy(err)
	}
	if c.Digest != "" && !strings.EqualFold(c.Digest, from.Digest) {
		return nil, facts, fmt.Errorf("this is another copy than the one with the digest %s: its digest is %s. Nothing was restored", c.Digest, from.Digest)
	}
	if err := from.Verify(ctx, newProgress(io, "Reading the copy")); err != nil {
		return nil, facts, refusedCopy(err)
	}
	var text bytes.Buffer
	if err := from.Copy(backupFile, &text); err != nil {
		return nil, facts, refusedCopy(err)
	}
	if err := json.Unmarshal(text.Bytes(), &facts); err != nil {
		return nil, facts, fmt.Errorf("%s of the copy cannot be read: %w. Nothing was restored", backupFile, err)
	}
	return from, facts, nil
}

func refusedCopy(err error) error {
	return fmt.Errorf("%w. Nothing was restored; use another copy", err)
}

// empty refuses a place that has something in it already, and one of another kind than the copy.
func (c *restoreCommand) empty(ctx context.Context, facts backupFacts) error {
	if err := models.CheckURL(c.database()); err != nil {
		return err
	}
	entries, err := os.ReadDir(c.Data)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	if len(entries) > 0 {
		return fmt.Errorf("%s is not empty. Nothing was restored; name an empty folder, or one that is not there yet, with --data", c.Data)
	}
	postgres := models.IsPostgres(c.database())
	if postgres != (facts.Dialect == migrations.Postgres) {
		return fmt.Errorf("this copy is of a database on %s. Nothing was restored; %s", dialectNames[facts.Dialect], map[bool]string{
			true:  "leave --database out",
			false: "name an empty database on a PostgreSQL server with --database",
		}[postgres])
	}
	if !postgres {
		return nil
	}
	db, err := c.connect(ctx)
	if err != nil {
		return err
	}
	return errors.Join(db.CheckEmpty(ctx), db.Close())
}

var dialectNames = map[string]string{migrations.SQLite: "SQLite", migrations.Postgres: "PostgreSQL"}

// restore makes everything in a folder beside the one that it is for, and gives it that name in the end.
func (c *restoreCommand) restore(ctx context.Context, from *bag.Bag, facts backupFacts) (err error) {
	place, err := filepath.Abs(c.Data)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(place), 0o700); err != nil {
		return err
	}
	draft, err := os.MkdirTemp(filepath.Dir(place), ".restoring-")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(c.undone(ctx, err), os.RemoveAll(draft))
		}
	}()
	for _, f := range []struct{ below, folder string }{{backupPhotos, photoFolder(draft)}, {backupDatabase, filepath.Join(draft, backupDatabase)}} {
		if err := unpack(ctx, from, f.below, f.folder); err != nil {
			return err
		}
	}
	if err := c.fill(ctx, draft, facts); err != nil {
		return err
	}
	if err := os.RemoveAll(filepath.Join(draft, backupDatabase)); err != nil {
		return err
	}
	if err := os.Remove(place); err != nil && !errors.Is(err, os.ErrNotExist) { // an empty folder
		return err
	}
	return os.Rename(draft, place)
}

// undone leaves a database on a server as empty as it was, after something went wrong, and says so.
func (c *restoreCommand) undone(ctx context.Context, why error) error {
	if !c.filled {
		return why
	}
	db, err := c.connect(ctx)
	if err == nil {
		err = errors.Join(db.EmptyAgain(context.WithoutCancel(ctx)), db.Close())
	}
	if err != nil {
		return fmt.Errorf("%w. The database could not be emptied again (%w): what is in it is not to be used; name another, empty one with --database", why, err)
	}
	return fmt.Errorf("%w. The database was emptied again, and nothing was restored", why)
}

// unpack copies what lies below a folder of the copy into a folder.
func unpack(ctx context.Context, from *bag.Bag, below, folder string) error {
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return err
	}
	for _, name := range from.Names(below) {
		if err := ctx.Err(); err != nil {
			return err
		}
		place := filepath.Join(folder, filepath.FromSlash(strings.TrimPrefix(name, below+"/")))
		if err := unpackFile(from, name, place); err != nil {
			return err
		}
	}
	return nil
}

func unpackFile(from *bag.Bag, name, place string) error {
	if err := os.MkdirAll(filepath.Dir(place), 0o700); err != nil {
		return err
	}
	file, err := os.OpenFile(place, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	err = from.Copy(name, file)
	return errors.Join(err, file.Sync(), file.Close())
}

// fill makes the database of what was unpacked, and has database, photos and key belong together.
func (c *restoreCommand) fill(ctx context.Context, draft string, facts backupFacts) (err error) {
	unpacked := filepath.Join(draft, backupDatabase)
	here := placeFlags{Data: draft, Database: c.Database}
	if facts.Dialect == migrations.SQLite {
		if err := os.Rename(filepath.Join(unpacked, filepath.Base(here.database())), here.database()); err != nil {
			return err
		}
	}
	db, err := here.create(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	if facts.Dialect == migrations.Postgres {
		c.filled = true
		if err := db.RestoreFrom(ctx, unpacked, facts.Copied); err != nil {
			return err
		}
	}
	if err := db.Migrate(ctx); err != nil {
		return err
	}
	if err := db.Restored(ctx, facts.Copied); err != nil {
		return err
	}
	if c.held, err = c.history(ctx, db); err != nil {
		return err
	}
	if err := c.putKeys(draft); err != nil {
		return err
	}
	photos, _, err := openPlaces(ctx, db, location{draft, cmp.Or(c.KeyFile, keyFile(draft))}, true)
	if err != nil {
		return err
	}
	return photos.Close()
}

// putKeys puts the keys at their place; without them new ones are made.
func (c *restoreCommand) putKeys(draft string) error {
	if c.Keys == "" {
		return nil
	}
	if c.KeyFile != "" {
		return errors.New("--keys copies keys into the data folder, and --key-file names keys elsewhere. Nothing was restored: give one of them")
	}
	text, err := os.ReadFile(c.Keys)
	if err != nil {
		return err
	}
	return os.WriteFile(keyFile(draft), text, 0o600)
}

func (c *restoreCommand) tell(io console, facts backupFacts) {
	fmt.Fprintf(io.out, "Restored into %s: %d %s and %d %s, as of %s.\n", c.Data, facts.Events, plural(int(facts.Events), "event", "events"),
		facts.Photos, plural(facts.Photos, "file of photos", "files of photos"), facts.Made.Format(time.RFC3339))
	if c.held > 0 {
		fmt.Fprintf(io.out, "Its history was read: events 1 to %d are what was signed.\n", c.held)
	} else {
		fmt.Fprintln(io.out, "Its history was not held against anything: the copy is from before anything was signed.")
	}
	fmt.Fprintln(io.out, "Everybody has to log in again. What happened since is not in it: acts, and people who were erased since are there again and have to be erased anew.")
	if n := len(facts.Missing); n > 0 {
		fmt.Fprintf(io.out, "The originals of %d %s were missing when it was made.\n", n, plural(n, "photo", "photos"))
	}
	fmt.Fprintln(io.out, "revidit rebuild compares every row with the events.")
}

// history holds the restored events against all checkpoints of the copy and those given, and returns how many were signed. Without a
// key given it goes by those that stand beside the checkpoints, which tells of damage, but nothing of who signed.
func (c *restoreCommand) history(ctx context.Context, db *models.DB) (int64, error) {
	newest, err := db.NewestCheckpoint(ctx)
	if review.KindOf(err) == review.KindNotFound && len(c.Checkpoint)+len(c.Key) == 0 {
		return 0, nil
	}
	if err != nil {
		return 0, fmt.Errorf("the history of the copy: %w", err)
	}
	given := c.Key
	if len(given) == 0 {
		given = []string{newest.Key}
	}
	keys, err := readKeys(given)
	if err != nil {
		return 0, err
	}
	kept, err := keptCheckpoints(keys, c.Checkpoint)
	if err != nil {
		return 0, err
	}
	for _, k := range kept {
		if k.Size > newest.Size {
			return 0, fmt.Errorf("the checkpoint given is of %d events, and the copy was signed up to %d: it cannot be held against a copy from before. "+
				"Name one that is no later, or leave --checkpoint out", k.Size, newest.Size)
		}
	}
	report, err := service.VerifyLog(ctx, db, proof.Check{Keys: keys, Kept: kept}, func(int, int) {})
	if err != nil {
		return 0, fmt.Errorf("the history of the copy: %w", err)
	}
	if report.Fault != nil {
		return 0, fmt.Errorf("the history of the copy is not what was signed, so that it is not to be used. %s", faultWords(*report.Fault))
	}
	return report.Newest().Size, nil
}

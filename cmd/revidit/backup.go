package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"revidit/models"
	"revidit/models/bag"
	"revidit/models/blob"
	"revidit/review"
	"revidit/review/service"
)

type backupCommand struct {
	placeFlags
	Folder string `arg:"" help:"Folder of the copies. Each is a folder of its own in it, named by its time; what the newest has already is not written again." type:"path"`
	Keys   string `help:"File to copy the keys into, which are in no copy: keep it apart from them." type:"path" placeholder:"FILE"`
}

// What a copy's payload holds, beside its folder of photos.
const (
	backupFile     = "backup.json"
	backupDatabase = "database"
	backupPhotos   = "photos"
)

// backupFacts say what a copy holds, for restore and for people.
type backupFacts struct {
	models.Copied
	Made    time.Time `json:"made"` // when it began: everything stored before is in it
	Program string    `json:"program"`
	Photos  int       `json:"photos"`                   // files
	Missing []string  `json:"missing_photos,omitempty"` // SHA-256 of originals that specimens or drafts have, and the photo folder had not
}

// Run copies a club while it is served.
func (c *backupCommand) Run(ctx context.Context, io console) error {
	if err := c.apart(); err != nil {
		return err
	}
	return c.withDB(ctx, func(db *models.DB) error {
		photos, err := blob.OpenDir(photoFolder(c.Data))
		if err != nil {
			return err
		}
		defer photos.Close()
		made, facts, err := backup(ctx, db, photos, c.Folder, newProgress(io, "Copying photos"))
		if err != nil {
			return err
		}
		if err := c.copyKeys(); err != nil {
			return fmt.Errorf("the copy is made, its keys are not: %w", err)
		}
		c.tell(io, made, facts)
		return nil
	})
}

// apart refuses copies inside the club's own folder, and keys among the copies.
func (c *backupCommand) apart() error {
	if inside(c.Data, c.Folder) {
		return fmt.Errorf("%s lies in the club's data folder, and would be lost with it. Nothing was made; name a folder elsewhere, best on another disk", c.Folder)
	}
	if c.Keys == "" {
		return nil
	}
	if inside(c.Folder, c.Keys) {
		return errors.New("the keys are not to lie among the copies: whoever has both can be everybody. Nothing was made; name another place with --keys")
	}
	if _, err := os.Lstat(c.Keys); err == nil {
		return fmt.Errorf("%s is there already. Nothing was made; remove it, or name another file with --keys", c.Keys)
	}
	return nil
}

func inside(folder, place string) bool {
	whole, err := filepath.Abs(folder)
	if err != nil {
		return false
	}
	other, err := filepath.Abs(place)
	if err != nil {
		return false
	}
	between, err := filepath.Rel(whole, other)
	return err == nil && between != ".." && !strings.HasPrefix(between, ".."+string(filepath.Separator))
}

func (c *backupCommand) copyKeys() error {
	if c.Keys == "" {
		return nil
	}
	text, err := os.ReadFile(c.location().keys)
	if err != nil {
		return err
	}
	file, err := os.OpenFile(c.Keys, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = file.Write(text)
	return errors.Join(err, file.Sync(), file.Close())
}

func (c *backupCommand) tell(io console, made *bag.Bag, facts backupFacts) {
	fmt.Fprintf(io.out, "%s holds %d %s and %d %s, as of %s.\n", made.Path, facts.Events, plural(int(facts.Events), "event", "events"),
		facts.Photos, plural(facts.Photos, "file of photos", "files of photos"), facts.Made.Format(time.RFC3339))
	fmt.Fprintf(io.out, "Its digest is %s: written down elsewhere, it tells whether the copy is still what it was.\n", made.Digest)
	if c.Keys == "" {
		fmt.Fprintln(io.out, "The keys are not in it. Without them everybody has to log in again; --keys copies them.")
	}
	if n := len(facts.Missing); n > 0 {
		fmt.Fprintf(io.out, "Missing: the photo folder has not the %s of %d %s: %s. They are in no copy made now; look for them in former ones.\n",
			plural(n, "original", "originals"), n, plural(n, "photo", "photos"), strings.Join(facts.Missing, ", "))
	}
}

// backup writes a bag: the database, and meanwhile the photos that are there. What was stored since is taken up when the database is
// copied, so that every photo that it knows is looked for after it.
func backup(ctx context.Context, db *models.DB, photos *blob.Dir, folder string, told func(done, all int)) (made *bag.Bag, facts backupFacts, err error) {
	former, err := bag.Newest(folder)
	if err != nil && !errors.Is(err, bag.ErrDamaged) { // then everything is copied anew
		return nil, facts, err
	}
	facts.Made, facts.Program = time.Now().UTC(), version
	w, err := bag.Create(folder, facts.Made.Format("2006-01-02T150405.000Z"))
	if err != nil {
		return nil, facts, err
	}
	defer func() {
		if made == nil {
			err = errors.Join(err, w.Abandon())
		}
	}()
	p := photoCopy{from: photos, to: w, former: former, told: told, there: map[string]bool{}}
	both, within := errgroup.WithContext(ctx)
	both.Go(func() (err error) {
		facts.Copied, err = copyDatabase(within, db, w)
		return err
	})
	both.Go(func() error { return p.stored(within) })
	if err := both.Wait(); err != nil {
		return nil, facts, err
	}
	if err := p.rest(ctx, facts.Copied.Photos); err != nil {
		return nil, facts, err
	}
	facts.Photos, facts.Missing = len(p.there), p.missing
	text, err := json.MarshalIndent(facts, "", "  ")
	if err != nil {
		return nil, facts, err
	}
	if err := w.Add(backupFile, strings.NewReader(string(text)+"\n")); err != nil {
		return nil, facts, err
	}
	made, err = w.Close(facts.Made, bag.Label{Name: "External-Description", Value: "Everything that a club of Revidit has stored, but its keys. revidit restore brings it back."})
	return made, facts, err
}

// copyDatabase takes up what models writes.
func copyDatabase(ctx context.Context, db *models.DB, w *bag.Writer) (models.Copied, error) {
	folder, err := w.Folder(backupDatabase)
	if err != nil {
		return models.Copied{}, err
	}
	copied, err := db.CopyTo(ctx, folder)
	if err != nil {
		return copied, err
	}
	entries, err := os.ReadDir(folder)
	if err != nil {
		return copied, err
	}
	for _, e := range entries {
		if err := w.Took(path.Join(backupDatabase, e.Name())); err != nil {
			return copied, err
		}
	}
	return copied, nil
}

// photoCopy copies photo bytes into a bag, as many files at once as there are cores: a digest is taken of each.
type photoCopy struct {
	from    *blob.Dir
	to      *bag.Writer
	former  *bag.Bag
	missing []string

	mu    sync.Mutex // of what follows
	told  func(done, all int)
	there map[string]bool // what the bag has
}

// namesAtOnce bounds what is listed of the photo folder at a time.
const namesAtOnce = 10_000

// stored copies everything in the photo folder that the bag has not.
func (p *photoCopy) stored(ctx context.Context) error {
	for after := ""; ; {
		names, err := p.from.Stored(ctx, after, namesAtOnce)
		if err != nil {
			return fmt.Errorf("copy photos: %w", err)
		}
		if err := p.copyAll(ctx, names); err != nil {
			return fmt.Errorf("copy photos: %w", err)
		}
		if len(names) < namesAtOnce {
			return nil
		}
		after = names[len(names)-1]
	}
}

// rest copies what was stored since, and those originals that a sweep has just set aside. known are the originals of the database's
// copy, by whether a specimen or a draft has them: others may have expired meanwhile.
func (p *photoCopy) rest(ctx context.Context, known map[string]bool) error {
	if err := p.stored(ctx); err != nil {
		return err
	}
	originals := make([]string, 0, len(known))
	for digest := range known {
		originals = append(originals, service.OriginalName(digest))
	}
	if err := p.copyAll(ctx, originals); err != nil {
		return fmt.Errorf("copy photos: %w", err)
	}
	for digest, had := range known {
		if had && !p.has(service.OriginalName(digest)) {
			p.missing = append(p.missing, digest)
		}
	}
	slices.Sort(p.missing)
	return nil
}

// copyAll copies those of which the bag has none. What is there no more is left out.
func (p *photoCopy) copyAll(ctx context.Context, names []string) error {
	copying, ctx := errgroup.WithContext(ctx)
	copying.SetLimit(runtime.GOMAXPROCS(0))
	for _, name := range names {
		if p.has(name) {
			continue
		}
		copying.Go(func() error {
			err := p.copy(ctx, name)
			if review.KindOf(err) == review.KindNotFound {
				return nil
			}
			if err == nil {
				p.copied(name, len(names))
			}
			return err
		})
	}
	return copying.Wait()
}

func (p *photoCopy) has(name string) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.there[name]
}

func (p *photoCopy) copied(name string, all int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.there[name] = true
	p.told(len(p.there), max(all, len(p.there)))
}

func (p *photoCopy) copy(ctx context.Context, name string) error {
	whole := path.Join(backupPhotos, name)
	again, err := p.to.Again(p.former, whole)
	if err != nil || again {
		return err
	}
	body, err := p.from.Open(ctx, name)
	if err != nil {
		return err
	}
	defer body.Close()
	return p.to.Add(whole, body)
}

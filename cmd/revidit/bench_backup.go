package main

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"time"

	"revidit/cmd/revidit/collection"
	"revidit/cmd/revidit/stopwatch"
	"revidit/models"
	"revidit/models/bag"
	"revidit/models/blob"
	"revidit/models/pgserver"
	"revidit/review/service"
)

type benchBackup struct {
	Rows   int `help:"Submissions of the made-up collection." default:"5000" placeholder:"N"`
	Photos int `help:"Photos, of two megabytes each." default:"500" placeholder:"N"`
	Rounds int `help:"Copies that are made of each database, in turns with tar." default:"3" placeholder:"N"`
}

const photoBytes = 2 << 20

// Validate checks the numbers.
func (c *benchBackup) Validate() error {
	if c.Rows < 1 || c.Photos < 1 || c.Rounds < 1 {
		return errors.New("--rows, --photos and --rounds must be above 0; nothing was measured")
	}
	return nil
}

// Run fills both databases, copies each into an empty folder, and has tar pack what the copy holds into a file.
func (c *benchBackup) Run(ctx context.Context, on console) (err error) {
	if _, err := exec.LookPath("tar"); err != nil {
		return errors.New("bench backup compares with tar, which is not here; nothing was measured")
	}
	folder, err := os.MkdirTemp("", "revidit-backup-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	if err := os.Chmod(folder, 0o755); err != nil { // PostgreSQL runs as another user
		return err
	}
	photos, err := blob.OpenDir(filepath.Join(folder, "photos"))
	if err != nil {
		return err
	}
	defer photos.Close()
	if err := randomPhotos(ctx, photos, c.Photos); err != nil {
		return err
	}
	moulds, err := collection.Live(ctx, 1, fewestLives, func(int, int) {})
	if err != nil {
		return err
	}
	fmt.Fprintf(on.out, "%s, %s/%s, %d cores; medians of %d rounds in turns. Both end when everything is on the disk.\n", runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.NumCPU(), c.Rounds)
	b := backupBench{command: c, out: on.out, folder: folder, photos: photos, moulds: moulds}
	if err := b.measure(ctx, "SQLite", filepath.Join(folder, "revidit.sqlite")); err != nil {
		return err
	}
	if err := b.postgres(ctx); err != nil {
		return err
	}
	fmt.Fprintf(on.out, "\nphotos=%d ratio=%.2f\n", c.Photos, b.worst)
	return nil
}

// randomPhotos are bytes that nothing can make smaller.
func randomPhotos(ctx context.Context, photos *blob.Dir, n int) error {
	data := make([]byte, photoBytes)
	for range n {
		if _, err := rand.Read(data); err != nil {
			return err
		}
		sum := sha256.Sum256(data)
		if err := photos.Put(ctx, service.OriginalName(hex.EncodeToString(sum[:])), data); err != nil {
			return err
		}
	}
	return nil
}

// backupBench is one run.
type backupBench struct {
	command *benchBackup
	out     io.Writer
	folder  string
	photos  *blob.Dir
	moulds  *collection.Moulds
	worst   float64 // ratio of both databases
}

// postgres measures on a server of its own.
func (b *backupBench) postgres(ctx context.Context) (err error) {
	server, err := pgserver.Start(ctx, pgserver.Options{Parent: b.folder})
	if errors.Is(err, pgserver.ErrNoPrograms) {
		fmt.Fprintf(b.out, "PostgreSQL was left out: %v.\n", err)
		return nil
	}
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, server.Stop()) }()
	return b.measure(ctx, "PostgreSQL", server.URL)
}

func (b *backupBench) measure(ctx context.Context, name, url string) (err error) {
	db, err := models.Open(ctx, url)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	if err := db.Migrate(ctx); err != nil {
		return err
	}
	if err := db.Fill(ctx, b.moulds.Of(b.command.Rows, 1, time.Now(), "").Fillings(func(int, int) {})); err != nil {
		return err
	}
	var ours, theirs []time.Duration
	for range b.command.Rounds {
		copied, packed, err := b.round(ctx, db)
		if err != nil {
			return err
		}
		ours, theirs = append(ours, copied), append(theirs, packed)
	}
	copied, packed := stopwatch.Median(ours), stopwatch.Median(theirs)
	ratio := copied.Seconds() / packed.Seconds()
	b.worst = max(b.worst, ratio)
	fmt.Fprintf(b.out, "  %-10s backup %.2f s, tar of the same bytes %.2f s: %.2f\n", name, copied.Seconds(), packed.Seconds(), ratio)
	return nil
}

// round makes a copy in an empty folder and packs it.
func (b *backupBench) round(ctx context.Context, db *models.DB) (copied, packed time.Duration, err error) {
	copies, archive := filepath.Join(b.folder, "copies"), filepath.Join(b.folder, "copy.tar")
	defer func() { err = errors.Join(err, os.RemoveAll(copies), os.RemoveAll(archive)) }()
	began := time.Now()
	made, _, err := backup(ctx, db, b.photos, copies, func(int, int) {})
	if err != nil {
		return 0, 0, err
	}
	copied = time.Since(began)
	began = time.Now()
	if said, err := exec.CommandContext(ctx, "tar", "-cf", archive, "-C", made.Path, ".").CombinedOutput(); err != nil {
		return 0, 0, fmt.Errorf("tar: %w: %s", err, said)
	}
	if err := bag.Sync(archive); err != nil {
		return 0, 0, err
	}
	return copied, time.Since(began), nil
}

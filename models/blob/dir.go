package blob

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"strings"
	"time"

	"revidit/review/service"
)

var _ service.Blobs = (*Dir)(nil)

// Dir keeps bytes as files in a folder. It is safe for concurrent use, by several processes too.
type Dir struct {
	root *os.Root // nothing outside is reachable, by no name and no link
	now  func() time.Time
}

// OpenDir returns a Dir in a folder, which is made where there is none. Close it at the end.
func OpenDir(folder string) (*Dir, error) {
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return nil, fmt.Errorf("make the photo folder: %w", err)
	}
	root, err := os.OpenRoot(folder)
	if err != nil {
		return nil, fmt.Errorf("open the photo folder: %w", err)
	}
	return &Dir{root: root, now: time.Now}, nil
}

// Close ends the use of the folder.
func (d *Dir) Close() error { return d.root.Close() }

// temporary begins the names of files that are being written. No blob's name does.
const temporary = ".new-"

// Put implements review.Blobs. The bytes are on the disk, and so is their name, before it returns; a name shows up with
// all of its bytes or not at all. Bytes that are there already are kept and their file marked as new, so that a sweep
// leaves them to the upload that has just asked for them.
func (d *Dir) Put(ctx context.Context, name string, data []byte) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := checkName(name); err != nil {
		return err
	}
	now := d.now()
	err := d.root.Chtimes(name, now, now)
	if err == nil {
		return nil
	}
	if !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("store photo bytes: %w", err)
	}
	if err := d.write(name, data); err != nil {
		return fmt.Errorf("store photo bytes: %w", err)
	}
	return nil
}

func (d *Dir) write(name string, data []byte) error {
	folder := path.Dir(name)
	if err := d.makeFolder(folder); err != nil {
		return err
	}
	draft := path.Join(folder, temporary+rand.Text())
	if err := d.writeFile(draft, data); err != nil {
		return errors.Join(err, d.removeIfThere(draft))
	}
	if err := d.root.Rename(draft, name); err != nil {
		return errors.Join(err, d.removeIfThere(draft))
	}
	return d.syncFolder(folder)
}

// makeFolder makes a folder and those above it, and sees that their names are on the disk.
func (d *Dir) makeFolder(folder string) error {
	if folder == "." {
		return nil
	}
	if _, err := d.root.Stat(folder); err == nil || !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	above := path.Dir(folder)
	if err := d.makeFolder(above); err != nil {
		return err
	}
	if err := d.root.Mkdir(folder, 0o700); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return d.syncFolder(above)
}

func (d *Dir) writeFile(name string, data []byte) error {
	file, err := d.root.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	if _, err := file.Write(data); err != nil {
		return errors.Join(err, file.Close())
	}
	if err := file.Sync(); err != nil {
		return errors.Join(err, file.Close())
	}
	return file.Close()
}

func (d *Dir) syncFolder(folder string) error {
	opened, err := d.root.Open(folder)
	if err != nil {
		return err
	}
	return errors.Join(opened.Sync(), opened.Close())
}

func (d *Dir) removeIfThere(name string) error {
	if err := d.root.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// Open implements review.Blobs. The reader is an *os.File, so that it can seek.
func (d *Dir) Open(ctx context.Context, name string) (io.ReadCloser, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if checkName(name) != nil {
		return nil, notFound(name)
	}
	file, err := d.root.Open(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, notFound(name)
	}
	if err != nil {
		return nil, fmt.Errorf("open photo bytes: %w", err)
	}
	return file, nil
}

// Sweep removes files that keep does not want, and rests of writing that was cut short, as long as they are older than
// olderThan: an upload puts the bytes first and names them a moment later, so give it hours. It returns how many files
// it has removed, also where it stops at an error. Files that are not this package's own are left alone.
func (d *Dir) Sweep(ctx context.Context, keep func(name string) bool, olderThan time.Duration) (removed int, err error) {
	oldest := d.now().Add(-olderThan)
	err = fs.WalkDir(d.root.FS(), ".", func(name string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		if !entry.Type().IsRegular() || !stray(name, keep) {
			return nil
		}
		old, err := d.changedBefore(name, oldest)
		if err != nil || !old {
			return err
		}
		if err := d.removeIfThere(name); err != nil {
			return err
		}
		removed++
		return nil
	})
	if err != nil {
		return removed, fmt.Errorf("sweep photo bytes: %w", err)
	}
	return removed, nil
}

func stray(name string, keep func(name string) bool) bool {
	if strings.HasPrefix(path.Base(name), temporary) {
		return true
	}
	return checkName(name) == nil && !keep(name)
}

// changedBefore looks at the file anew, not at what the walk has read: a Put may have marked it as new since.
func (d *Dir) changedBefore(name string, limit time.Time) (bool, error) {
	info, err := d.root.Lstat(name)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil // another sweep was quicker
	}
	if err != nil {
		return false, err
	}
	return info.ModTime().Before(limit), nil
}

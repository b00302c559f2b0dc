package blob

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
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

// Put implements service.Blobs. The bytes are on the disk, and so is their name, before it returns; a name shows up with
// all of its bytes or not at all. A file that holds these bytes already is kept and marked as new, so that a sweep leaves it
// to the upload that has just asked for it; one that holds others is damaged, and another one takes its place.
func (d *Dir) Put(ctx context.Context, name string, data []byte) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := checkName(name); err != nil {
		return err
	}
	there, err := d.holds(name, data)
	if err == nil && there {
		now := d.now()
		if err = d.root.Chtimes(name, now, now); err == nil {
			return nil
		}
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("store photo bytes: %w", err)
	}
	if err := d.write(name, data); err != nil {
		return fmt.Errorf("store photo bytes: %w", err)
	}
	return nil
}

// holds says whether a file holds certain bytes and no others. One that cannot be read to its end does not: a disk that is
// failing is no reason to refuse the bytes that mend it.
func (d *Dir) holds(name string, data []byte) (bool, error) {
	file, err := d.root.Open(name)
	if err != nil {
		return false, err
	}
	defer file.Close()
	const atOnce = 64 << 10
	for buffer := make([]byte, atOnce); ; {
		n, err := io.ReadFull(file, buffer)
		if n > len(data) || !bytes.Equal(buffer[:n], data[:n]) {
			return false, nil
		}
		if data = data[n:]; err != nil {
			return len(data) == 0 && (errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF)), nil
		}
	}
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

// Open implements service.Blobs. The reader is an *os.File, so that it can seek.
func (d *Dir) Open(ctx context.Context, name string) (io.ReadCloser, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if checkName(name) != nil {
		return nil, notFound(name)
	}
	file, err := d.root.Open(name)
	if errors.Is(err, fs.ErrNotExist) {
		file, err = d.root.Open(aside(name))
	}
	if errors.Is(err, fs.ErrNotExist) {
		return nil, notFound(name)
	}
	if err != nil {
		return nil, fmt.Errorf("open photo bytes: %w", err)
	}
	return file, nil
}

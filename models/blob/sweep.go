package blob

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"strings"
	"time"
)

// setAside is the folder of what was set aside. It lies inside the photo folder, since files can be moved at once only
// within one file system; and no blob's name begins like this, so that none stands in it by itself.
const setAside = ".set-aside"

func aside(name string) string { return path.Join(setAside, name) }

// errEnough ends a walk through folders.
var errEnough = errors.New("as many names as were asked for")

// Stored implements service.Sweeper. Folders are read one at a time, and those before the name not at all.
func (d *Dir) Stored(ctx context.Context, after string, most int) ([]string, error) {
	return names(ctx, d.root.FS(), after, most)
}

// StoredAside implements service.Sweeper.
func (d *Dir) StoredAside(ctx context.Context, after string, most int) ([]string, error) {
	folder, err := fs.Sub(d.root.FS(), setAside)
	if err != nil {
		return nil, fmt.Errorf("list photo bytes: %w", err)
	}
	return names(ctx, folder, after, most)
}

// names lists blobs, and rests of writing that was cut short, in order of their parts. Files and folders that are not
// this package's own are left out.
func names(ctx context.Context, folder fs.FS, after string, most int) (found []string, err error) {
	err = fs.WalkDir(folder, ".", func(name string, entry fs.DirEntry, err error) error {
		switch {
		case errors.Is(err, fs.ErrNotExist): // it has gone while this reads
			return nil
		case err != nil:
			return err
		case ctx.Err() != nil:
			return ctx.Err()
		case name == ".":
			return nil
		case entry.IsDir():
			if checkName(name) != nil || beyond(after, name) && !strings.HasPrefix(after, name+"/") {
				return fs.SkipDir
			}
			return nil
		case !entry.Type().IsRegular() || !beyond(name, after) || checkName(name) != nil && !isRest(name):
			return nil
		case len(found) == most:
			return errEnough
		}
		found = append(found, name)
		return nil
	})
	if err != nil && !errors.Is(err, errEnough) {
		return nil, fmt.Errorf("list photo bytes: %w", err)
	}
	return found, nil
}

// beyond says whether a walk comes to a name after another one: in order of the parts, not of the whole.
func beyond(name, other string) bool { return inOrder(name) > inOrder(other) }

func inOrder(name string) string { return strings.ReplaceAll(name, "/", "\x00") }

// isRest says whether a file was being written when that was cut short.
func isRest(name string) bool { return strings.HasPrefix(path.Base(name), temporary) }

// SetAside implements service.Sweeper. Rests of writing are removed at once: no name has ever stood for them.
func (d *Dir) SetAside(ctx context.Context, names []string, before time.Time) (int, error) {
	return each(ctx, "set photo bytes aside", names, func(name string) (bool, error) {
		if old, err := d.changedBefore(name, before); err != nil || !old {
			return false, err
		}
		if isRest(name) {
			return true, d.root.Remove(name)
		}
		// First the time, from which the time aside counts: whoever is cut off here has made a file seem new, and it is set
		// aside later. The other way round it could be removed too soon.
		now := d.now()
		if err := d.root.Chtimes(name, now, now); err != nil {
			return false, err
		}
		return true, d.move(name, aside(name))
	})
}

// PutBack implements service.Sweeper.
func (d *Dir) PutBack(ctx context.Context, names []string) (int, error) {
	return each(ctx, "put photo bytes back", names, func(name string) (bool, error) {
		return true, d.move(aside(name), name)
	})
}

// Discard implements service.Sweeper.
func (d *Dir) Discard(ctx context.Context, names []string, before time.Time) (int, error) {
	return each(ctx, "remove photo bytes", names, func(name string) (bool, error) {
		if old, err := d.changedBefore(aside(name), before); err != nil || !old {
			return false, err
		}
		return true, d.root.Remove(aside(name))
	})
}

// move gives a file another name. It does not wait for the disk: after a power cut the file is in the one place or in the
// other, and the next sweep begins with that.
func (d *Dir) move(from, to string) error {
	if err := d.makeFolder(path.Dir(to)); err != nil {
		return err
	}
	return d.root.Rename(from, to)
}

// changedBefore looks at the file anew, not at what a walk has read: a Put may have marked it as new since.
func (d *Dir) changedBefore(name string, limit time.Time) (bool, error) {
	info, err := d.root.Lstat(name)
	if err != nil {
		return false, err
	}
	return info.ModTime().Before(limit), nil
}

// each does something with names and counts those with which it was done. A file that is not there any more is no fault:
// another sweep was quicker.
func each(ctx context.Context, what string, names []string, do func(name string) (bool, error)) (n int, err error) {
	for _, name := range names {
		if err := ctx.Err(); err != nil {
			return n, err
		}
		if checkName(name) != nil && !isRest(name) {
			return n, fmt.Errorf("%s: %q is no name for photo bytes", what, name)
		}
		done, err := do(name)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			continue
		case err != nil:
			return n, fmt.Errorf("%s: %w", what, err)
		case done:
			n++
		}
	}
	return n, nil
}

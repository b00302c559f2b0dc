package models

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"revidit/review"
)

// databaseFile is the file of an SQLite database as it was when it was opened. Whoever has a file open goes on writing to it
// after somebody has removed it, or put another one in its place; what is stored then is gone with the process.
type databaseFile struct {
	path string
	info fs.FileInfo
	// logged: there is a log beside it, as wherever the file system is good for one.
	logged bool
}

func openedFile(path string) (*databaseFile, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("look at the database file: %w", err)
	}
	return &databaseFile{path: path, info: info}, nil
}

// lookForLog is called when connections are open.
func (f *databaseFile) lookForLog() {
	_, err := os.Stat(f.log())
	f.logged = err == nil
}

// check is nil while the file is at its place.
func (f *databaseFile) check() error { return f.missing(nothingStored) }

// checkStored is check after something was stored, and looks at the log as well, which is where it was stored first.
func (f *databaseFile) checkStored() error {
	if err := f.missing(perhapsStored); err != nil || f == nil || !f.logged {
		return err
	}
	if _, err := os.Stat(f.log()); errors.Is(err, fs.ErrNotExist) {
		return f.gone(fmt.Errorf("%s has been removed", f.log()), perhapsStored)
	}
	return nil
}

// log is the path of the write-ahead log.
func (f *databaseFile) log() string { return f.path + "-wal" }

func (f *databaseFile) missing(after string) error {
	if f == nil {
		return nil
	}
	now, err := os.Stat(f.path)
	switch {
	case err != nil:
		return f.gone(err, after)
	case !os.SameFile(now, f.info):
		return f.gone(fmt.Errorf("%s is another file", f.path), after)
	}
	return nil
}

func (f *databaseFile) gone(cause error, after string) error {
	return review.Fault(review.KindDown, cause, "The database file was removed or replaced while the server runs, so it takes nothing any more. "+
		"The keeper of this server has to stop it, put the file back or restore a backup, and start it again.%s", after)
}

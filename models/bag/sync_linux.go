package bag

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// Sync brings a file, or everything below a folder, to the disk: the file system at once, which takes a fraction of what asking for
// thousands of files one by one does.
func Sync(folder string) error {
	opened, err := os.Open(folder)
	if err != nil {
		return err
	}
	return errors.Join(unix.Syncfs(int(opened.Fd())), opened.Close())
}

// startWriting has the disk begin with a file, so that Sync waits for the last ones and not for all. Nothing rests on it: what it
// cannot do Sync does.
func startWriting(file *os.File) {
	_ = unix.SyncFileRange(int(file.Fd()), 0, 0, unix.SYNC_FILE_RANGE_WRITE)
}

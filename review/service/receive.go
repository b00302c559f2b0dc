package service

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"time"

	"revidit/review"
	"revidit/review/photo"
)

// What one person may send to this process within a day of the calendar (UTC), refused photos included: ten times a busy
// day at a museum (assumed).
const (
	dailyUploads = 2000
	dailyBytes   = 8_000_000_000
	// waitingUploads is how many of one person may wait until the one before has been read.
	waitingUploads = 4
)

// receiver takes uploads to the disk, one at a time of each person.
type receiver struct {
	folder string // empty: the system's folder for temporary files
	mu     sync.Mutex
	people map[string]*sender
}

// sender is what a person sends.
type sender struct {
	slot           chan struct{}
	waiting        int
	day            string
	uploads, bytes int64
}

// begin waits for the person's slot, and counts an upload. The caller calls end with the bytes that came.
func (r *receiver) begin(ctx context.Context, person string, now time.Time) (end func(bytes int64), err error) {
	s, err := r.enter(person, now.UTC().Format(time.DateOnly))
	if err != nil {
		return nil, err
	}
	select {
	case s.slot <- struct{}{}:
	case <-ctx.Done():
		err = fmt.Errorf("waiting for the upload before: %w", ctx.Err())
	}
	if err != nil {
		r.leave(s, 0)
		return nil, err
	}
	return func(bytes int64) { <-s.slot; r.leave(s, bytes) }, nil
}

func (r *receiver) enter(person, day string) (*sender, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.forget(day)
	s := r.people[person]
	if s == nil {
		s = &sender{slot: make(chan struct{}, 1)}
		r.people[person] = s
	}
	if s.day != day {
		s.day, s.uploads, s.bytes = day, 0, 0
	}
	if s.uploads >= dailyUploads || s.bytes >= dailyBytes {
		return nil, review.Errorf(review.KindTooMany, "You have sent %d photos with %d MB today; more are taken from midnight UTC. What was stored before is safe.",
			s.uploads, s.bytes/1_000_000)
	}
	if s.waiting > waitingUploads {
		return nil, review.Errorf(review.KindTooMany, "%d of your photos are still on their way. This one was not stored; send it when they have arrived.", s.waiting)
	}
	s.waiting++
	s.uploads++
	return s, nil
}

func (r *receiver) leave(s *sender, bytes int64) {
	r.mu.Lock()
	defer r.mu.Unlock()
	s.waiting--
	s.bytes += bytes
}

// forget drops who has sent nothing today.
func (r *receiver) forget(day string) {
	for person, s := range r.people {
		if s.waiting == 0 && s.day != day {
			delete(r.people, person)
		}
	}
}

// spool writes an upload to a file in a folder of its own, of which nothing is held in memory. The caller removes the folder.
func (r *receiver) spool(from io.Reader) (folder, file string, size int64, err error) {
	if err := makeRoom(r.folder); err != nil {
		return "", "", 0, err
	}
	if folder, err = os.MkdirTemp(r.folder, arriving); err != nil {
		return "", "", 0, DiskFault(fmt.Errorf("make a folder for an arriving photo: %w", err))
	}
	file = filepath.Join(folder, "upload")
	size, err = writeSpool(file, from)
	return folder, file, size, err
}

// makeRoom makes the folder of what is under way; a new club has none yet.
func makeRoom(folder string) error {
	if folder == "" { // the system's
		return nil
	}
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return DiskFault(fmt.Errorf("make the folder of what is under way: %w", err))
	}
	return nil
}

// arriving begins the names of folders of uploads.
const arriving = "revidit-upload-"

func writeSpool(file string, from io.Reader) (int64, error) {
	to, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return 0, DiskFault(fmt.Errorf("take an arriving photo to the disk: %w", err))
	}
	// One byte too many shows that there is more.
	size, err := io.Copy(to, io.LimitReader(from, photo.DefaultLimits.Bytes+1))
	if err = errors.Join(err, to.Close()); err != nil {
		return size, DiskFault(fmt.Errorf("take an arriving photo to the disk: %w", err))
	}
	return size, nil
}

// leftBehind is how old a folder of an upload is that a process has left when it was killed: no upload takes as long.
const leftBehind = time.Hour

// clean removes what a process that was killed has left in the folder of arriving photos.
func (r *receiver) clean() error {
	left, err := filepath.Glob(filepath.Join(r.folder, arriving+"*"))
	if r.folder == "" || err != nil {
		return err
	}
	for _, folder := range left {
		info, err := os.Stat(folder)
		if err == nil && time.Since(info.ModTime()) > leftBehind {
			err = os.RemoveAll(folder)
		}
		if err != nil && !errors.Is(err, os.ErrNotExist) {
			return fmt.Errorf("remove what was left of an upload: %w", err)
		}
	}
	return nil
}

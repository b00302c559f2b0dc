package bag

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"strconv"
	"sync"
	"sync/atomic"
	"time"
)

// unfinished begins the name of a bag that is being written. What has it is good for nothing.
const unfinished = ".unfinished-"

// Writer makes a bag. Files may be given to it by several goroutines at once, each name once. What was given to it is on the disk, and
// stands under the bag's name, when Close returns; before that there is no bag of this name.
type Writer struct {
	folder, name string
	root         *os.Root    // of the draft
	unlinked     atomic.Bool // hard links do not work here

	mu    sync.Mutex // of what follows
	sums  sums
	bytes int64
}

// Create begins a bag in a folder, which is made where there is none.
func Create(folder, name string) (*Writer, error) {
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return nil, fmt.Errorf("make the folder of the copy: %w", err)
	}
	if _, err := os.Lstat(filepath.Join(folder, name)); err == nil {
		return nil, fmt.Errorf("%s is there already; nothing was changed", filepath.Join(folder, name))
	}
	draft := filepath.Join(folder, unfinished+name)
	if err := os.Mkdir(draft, 0o700); err != nil {
		return nil, fmt.Errorf("begin the copy: %w", err)
	}
	root, err := os.OpenRoot(draft)
	if err != nil {
		return nil, fmt.Errorf("begin the copy: %w", err)
	}
	return &Writer{folder: folder, name: name, root: root, sums: sums{}}, nil
}

func (w *Writer) draft() string { return filepath.Join(w.folder, unfinished+w.name) }

// Folder makes a folder of the payload and returns where it is, for somebody else to write files into; each of them is then
// given with Took.
func (w *Writer) Folder(name string) (string, error) {
	if err := w.prepare(path.Join(name, "file")); err != nil {
		return "", err
	}
	return filepath.Join(w.draft(), payload, filepath.FromSlash(name)), nil
}

// prepare makes the folder of a file that is to come.
func (w *Writer) prepare(name string) error {
	if err := checkName(name); err != nil {
		return err
	}
	return w.root.MkdirAll(path.Dir(path.Join(payload, name)), 0o700)
}

// Took reads a file that somebody else has written.
func (w *Writer) Took(name string) error {
	file, err := w.root.Open(path.Join(payload, name))
	if err != nil {
		return err
	}
	defer file.Close()
	hash := sha256.New()
	n, err := pour(hash, file)
	if err != nil {
		return fmt.Errorf("read %s: %w", name, err)
	}
	w.took(name, hex.EncodeToString(hash.Sum(nil)), n)
	return nil
}

func (w *Writer) took(name, sum string, size int64) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.sums[path.Join(payload, name)] = sum
	w.bytes += size
}

// Add writes a file of the payload.
func (w *Writer) Add(name string, from io.Reader) error {
	if err := w.prepare(name); err != nil {
		return err
	}
	hash := sha256.New()
	n, err := w.write(path.Join(payload, name), io.TeeReader(from, hash))
	if err != nil {
		return err
	}
	w.took(name, hex.EncodeToString(hash.Sum(nil)), n)
	return nil
}

func (w *Writer) write(name string, from io.Reader) (int64, error) {
	file, err := w.root.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return 0, err
	}
	n, err := pour(file, from)
	if err == nil {
		startWriting(file)
	}
	return n, errors.Join(err, file.Close())
}

// pieces are what pour reads into, one after the other.
var pieces = sync.Pool{New: func() any { return new([pieceBytes]byte) }}

const pieceBytes = 256 << 10

// pour is io.Copy in larger pieces: that of two files takes small ones, and here a digest is taken on the way.
func pour(to io.Writer, from io.Reader) (int64, error) {
	piece := pieces.Get().(*[pieceBytes]byte)
	defer pieces.Put(piece)
	return io.CopyBuffer(struct{ io.Writer }{to}, struct{ io.Reader }{from}, piece[:])
}

// Again takes a file as a former bag has it, without reading it: as another name of the same bytes where the file system
// can. It says false, and does nothing, where the former bag has none of this name, or where it cannot.
func (w *Writer) Again(former *Bag, name string) (bool, error) {
	whole := path.Join(payload, name)
	if former == nil || w.unlinked.Load() || former.sums[whole] == "" {
		return false, nil
	}
	if err := w.prepare(name); err != nil {
		return false, err
	}
	from := filepath.Join(former.Path, filepath.FromSlash(whole))
	info, err := os.Lstat(from)
	if err != nil || !info.Mode().IsRegular() {
		return false, nil // the former bag is damaged; this one need not be
	}
	if err := os.Link(from, filepath.Join(w.draft(), filepath.FromSlash(whole))); err != nil {
		w.unlinked.Store(true)
		return false, nil
	}
	w.took(name, former.sums[whole], info.Size())
	return true, nil
}

// Close ends the bag with lines of bag-info.txt, and returns it. made is the day it is of.
func (w *Writer) Close(made time.Time, labels ...Label) (*Bag, error) {
	info := LabelDate + ": " + made.UTC().Format(time.DateOnly) + "\n" + LabelOxum + ": " + w.oxum() + "\n"
	for _, l := range labels {
		info += l.Name + ": " + l.Value + "\n"
	}
	tags := sums{}
	for _, f := range []struct {
		name string
		text []byte
	}{{declarationFile, []byte(declaration)}, {infoFile, []byte(info)}, {manifestFile, w.sums.text()}} {
		if err := w.root.WriteFile(f.name, f.text, 0o600); err != nil {
			return nil, fmt.Errorf("end the copy: %w", err)
		}
		tags[f.name] = sumOf(f.text)
	}
	if err := w.root.WriteFile(tagManifestFile, tags.text(), 0o600); err != nil {
		return nil, fmt.Errorf("end the copy: %w", err)
	}
	if err := w.root.Close(); err != nil {
		return nil, err
	}
	if err := Sync(w.draft()); err != nil {
		return nil, fmt.Errorf("bring the copy to the disk: %w", err)
	}
	whole := filepath.Join(w.folder, w.name)
	if err := os.Rename(w.draft(), whole); err != nil {
		return nil, fmt.Errorf("end the copy: %w", err)
	}
	if err := syncFolder(w.folder); err != nil {
		return nil, fmt.Errorf("bring the copy to the disk: %w", err)
	}
	return Open(whole)
}

// Abandon removes what was written of a bag that is not to be.
func (w *Writer) Abandon() error { return errors.Join(w.root.Close(), os.RemoveAll(w.draft())) }

// oxum is the size of the payload as RFC 8493 gives it: bytes, a dot, files.
func (w *Writer) oxum() string {
	return strconv.FormatInt(w.bytes, 10) + "." + strconv.Itoa(len(w.sums))
}

func sumOf(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

func syncFolder(folder string) error {
	opened, err := os.Open(folder)
	if err != nil {
		return err
	}
	return errors.Join(opened.Sync(), opened.Close())
}

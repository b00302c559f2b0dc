package bag

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// ErrDamaged is wrapped by errors that say what of a bag is missing, altered or not its own.
var ErrDamaged = errors.New("this copy is not whole, or was altered")

func damaged(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrDamaged, fmt.Sprintf(format, args...))
}

// Bag is a bag whose lists agree with each other and with the files that are there. That the files hold what they held is
// known after Verify.
type Bag struct {
	Path string
	// Digest is the SHA-256 of the list of lists: whoever keeps it elsewhere can tell that everything is as it was.
	Digest string
	Labels []Label
	sums   sums // of the payload
}

// Open reads the lists of a bag, and looks whether all files are there, of the sizes together that they had, and no others.
// Errors about the bag wrap ErrDamaged.
func Open(folder string) (*Bag, error) {
	root, err := os.OpenRoot(folder)
	if err != nil {
		return nil, fmt.Errorf("open the copy: %w", err)
	}
	defer root.Close()
	tags, digest, err := readTags(root)
	if err != nil {
		return nil, err
	}
	b := &Bag{Path: folder, Digest: digest}
	for name, sum := range tags {
		text, err := root.ReadFile(name)
		if err != nil {
			return nil, damaged("%s cannot be read: %v", name, err)
		}
		if sumOf(text) != sum {
			return nil, damaged("%s has been changed", name)
		}
		switch name {
		case manifestFile:
			if b.sums, err = parseSums(name, text); err != nil {
				return nil, damaged("%v", err)
			}
		case infoFile:
			b.Labels = parseLabels(string(text))
		case declarationFile:
			if string(text) != declaration {
				return nil, damaged("%s is of a form that this program does not read", name)
			}
		}
	}
	for name := range b.sums {
		if !strings.HasPrefix(name, payload+"/") {
			return nil, damaged("%s names %s, which is no file of the payload", manifestFile, name)
		}
	}
	return b, b.complete(root.FS())
}

// readTags reads the list of lists, which has to name the three others.
func readTags(root *os.Root) (tags sums, digest string, err error) {
	text, err := root.ReadFile(tagManifestFile)
	if err != nil {
		return nil, "", damaged("%s cannot be read: %v", tagManifestFile, err)
	}
	if tags, err = parseSums(tagManifestFile, text); err != nil {
		return nil, "", damaged("%v", err)
	}
	for _, name := range []string{declarationFile, infoFile, manifestFile} {
		if tags[name] == "" {
			return nil, "", damaged("%s does not name %s", tagManifestFile, name)
		}
	}
	return tags, sumOf(text), nil
}

func parseLabels(text string) (labels []Label) {
	for line := range strings.Lines(text) {
		if name, value, found := strings.Cut(strings.TrimRight(line, "\r\n"), ": "); found {
			labels = append(labels, Label{name, value})
		}
	}
	return labels
}

// complete compares the files that are there with the list, and their size and number with the label.
func (b *Bag) complete(folder fs.FS) error {
	var bytes int64
	files := 0
	err := fs.WalkDir(folder, payload, func(name string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		if b.sums[name] == "" {
			return damaged("%s is no file of it", name)
		}
		info, err := entry.Info()
		if err != nil {
			return err
		}
		bytes, files = bytes+info.Size(), files+1
		return nil
	})
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if files != len(b.sums) {
		return damaged("%d of %d files are missing, %s among them", len(b.sums)-files, len(b.sums), b.firstMissing(folder))
	}
	if oxum := strconv.FormatInt(bytes, 10) + "." + strconv.Itoa(files); oxum != b.Label(LabelOxum) {
		return damaged("its files have another size than they had: %s, not %s (bytes and files)", oxum, b.Label(LabelOxum))
	}
	return nil
}

func (b *Bag) firstMissing(folder fs.FS) string {
	for _, name := range slices.Sorted(maps.Keys(b.sums)) {
		if _, err := fs.Stat(folder, name); err != nil {
			return name
		}
	}
	return ""
}

// Label is the value of a line of bag-info.txt, empty where there is none.
func (b *Bag) Label(name string) string {
	for _, l := range b.Labels {
		if l.Name == name {
			return l.Value
		}
	}
	return ""
}

// Names are those of the files of the payload below a folder of it, "." for all, from the payload's folder, in order.
func (b *Bag) Names(below string) (names []string) {
	for name := range b.sums {
		if name, _ = strings.CutPrefix(name, payload+"/"); below == "." || strings.HasPrefix(name, below+"/") {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names
}

// Verify reads every file and compares it with its digest; told hears how many of all were read. It ends with the first that
// differs.
func (b *Bag) Verify(ctx context.Context, told func(done, all int)) error {
	for i, name := range b.Names(".") {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := b.Copy(name, io.Discard); err != nil {
			return err
		}
		told(i+1, len(b.sums))
	}
	return nil
}

// Copy writes the bytes of a file of the payload and compares them with their digest: where it returns an error they are not
// to be used.
func (b *Bag) Copy(name string, to io.Writer) error {
	file, err := b.open(name)
	if err != nil {
		return err
	}
	defer file.Close()
	hash := sha256.New()
	if _, err := io.Copy(io.MultiWriter(hash, to), file); err != nil {
		return fmt.Errorf("read %s: %w", name, err)
	}
	if hex.EncodeToString(hash.Sum(nil)) != b.sums[path.Join(payload, name)] {
		return damaged("%s does not hold what it held", name)
	}
	return nil
}

func (b *Bag) open(name string) (*os.File, error) {
	root, err := os.OpenRoot(b.Path)
	if err != nil {
		return nil, fmt.Errorf("open the copy: %w", err)
	}
	defer root.Close()
	file, err := root.Open(path.Join(payload, name))
	if err != nil {
		return nil, damaged("%s cannot be read: %v", name, err)
	}
	return file, nil
}

// Newest is the bag in a folder whose name comes last in order, nil where there is none. Those that are not finished don't
// count.
func Newest(folder string) (*Bag, error) {
	entries, err := os.ReadDir(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("look for former copies: %w", err)
	}
	for _, e := range slices.Backward(entries) {
		place := filepath.Join(folder, e.Name())
		if _, err := os.Stat(filepath.Join(place, declarationFile)); err != nil || strings.HasPrefix(e.Name(), unfinished) {
			continue
		}
		return Open(place)
	}
	return nil, nil
}

package darwincore

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"strings"
)

// Limits bound what an archive of a stranger may hold.
type Limits struct {
	Packed     int64 // bytes of the archive
	Unpacked   int64 // bytes of all of its files that are read
	Rows       int   // of the core
	Extensions int   // rows of all extensions together
}

// DefaultLimits are what a program with little memory can hold: what is unpacked is held while it is read.
var DefaultLimits = Limits{Packed: 64 << 20, Unpacked: 256 << 20, Rows: 100_000, Extensions: 500_000}

const maxEntries = 10_000

// Archive is one that somebody has written.
type Archive struct {
	Meta   Meta
	files  map[string]*zip.File
	folder string // in which meta.xml stands
	limits Limits
	left   int64
}

// Open reads the description of an archive. Its errors say what is wrong with it.
func Open(from io.ReaderAt, size int64, limits Limits) (*Archive, error) {
	if size > limits.Packed {
		return nil, fmt.Errorf("it is larger than %d MiB", limits.Packed>>20)
	}
	packed, err := zip.NewReader(from, size)
	if err != nil {
		return nil, fmt.Errorf("it is no ZIP archive that can be read: %w", err)
	}
	if len(packed.File) > maxEntries {
		return nil, fmt.Errorf("it has more than %d files", maxEntries)
	}
	a := &Archive{files: map[string]*zip.File{}, limits: limits, left: limits.Unpacked}
	described := ""
	for _, f := range packed.File {
		name := strings.ReplaceAll(f.Name, `\`, "/")
		if !f.Mode().IsRegular() || !fs.ValidPath(name) {
			continue
		}
		if _, twice := a.files[name]; twice {
			return nil, fmt.Errorf("it has a file twice: %s", name)
		}
		a.files[name] = f
		// An archive that was packed with its folder is read as if it had not been.
		if path.Base(name) == metaName && (described == "" || strings.Count(name, "/") < strings.Count(described, "/")) {
			described = name
		}
	}
	if described == "" || strings.Count(described, "/") > 1 {
		return nil, errors.New("it has no meta.xml, which tells what its files are")
	}
	a.folder = path.Dir(described)
	text, err := a.read(a.files[described], maxMeta)
	if err != nil {
		return nil, err
	}
	if a.Meta, err = ReadMeta(strings.NewReader(text)); err != nil {
		return nil, fmt.Errorf("its meta.xml cannot be used: %w", err)
	}
	return a, nil
}

// read unpacks a file as far as there are bytes left: what the directory says of sizes is not believed.
func (a *Archive) read(f *zip.File, most int64) (string, error) {
	r, err := f.Open()
	if err != nil {
		return "", fmt.Errorf("%s cannot be unpacked: %w", f.Name, err)
	}
	defer r.Close()
	most = min(most, a.left)
	var text strings.Builder
	n, err := io.Copy(&text, io.LimitReader(r, most+1))
	a.left -= n
	switch {
	case n > most:
		return "", fmt.Errorf("%s is larger than is taken when unpacked", f.Name)
	case err != nil:
		return "", fmt.Errorf("%s cannot be unpacked: %w", f.Name, err)
	}
	return text.String(), nil
}

// text is all of a described file, decoded. Several locations follow one another.
func (a *Archive) text(f *File) (texts []string, err error) {
	for _, place := range f.Locations {
		found := a.files[path.Join(a.folder, place)]
		if found == nil {
			return nil, fmt.Errorf("it has no file %s, which its meta.xml names", place)
		}
		packed, err := a.read(found, a.limits.Unpacked)
		if err != nil {
			return nil, err
		}
		decoded, err := charsetReader(f.Encoding, strings.NewReader(packed))
		if err != nil {
			return nil, err
		}
		// Of two bytes at most three come, so that no bomb hides in the encoding.
		text, err := io.ReadAll(decoded)
		if err != nil {
			return nil, fmt.Errorf("%s is not %s: %w", place, f.Encoding, err)
		}
		texts = append(texts, string(text))
	}
	return texts, nil
}

// Names are the files that are there and that meta.xml does not name.
func (a *Archive) unnamed() (names []string) {
	named := map[string]bool{path.Join(a.folder, metaName): true, path.Join(a.folder, a.Meta.Metadata): true}
	for _, f := range append([]File{a.Meta.Core}, a.Meta.Extensions...) {
		for _, place := range f.Locations {
			named[path.Join(a.folder, place)] = true
		}
	}
	for name := range a.files {
		if !named[name] {
			names = append(names, name)
		}
	}
	return names
}

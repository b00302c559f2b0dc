package diagnosis

import (
	"bytes"
	"fmt"
	"io/fs"
	"path"
)

// Limits of a folder of tables, since one may come from elsewhere. They are looked at before anything is parsed: a parser
// takes some hundred bytes for each sign. The beetle tables take about a tenth of them.
const (
	MaxFiles       = 2000
	MaxFileBytes   = 256 << 10
	MaxFolderBytes = 12 << 20
	// maxSigns bounds the nodes of a file from above: each begins a line or follows one of yamlSigns.
	maxSigns       = 30_000
	maxFolderSigns = 2_000_000
	// maxDepth is of lists and mappings within each other; FORMAT.md needs six.
	maxDepth = 32
	// maxProblems is how many are told: whoever has mended so many checks again.
	maxProblems = 1000
)

// yamlSigns stand before every node but the first of a line (YAML 1.2.2, section 5.3).
const yamlSigns = "\n\r,:-[{?&*!|>"

func signs(content []byte) int {
	n := 0
	for _, sign := range []byte(yamlSigns) {
		n += bytes.Count(content, []byte{sign})
	}
	return n
}

// tooMuch says which limit a file exceeds; "" where none.
func tooMuch(content []byte) string {
	if len(content) > MaxFileBytes {
		return fmt.Sprintf("the file is larger than %d KiB; divide it or shorten it", MaxFileBytes>>10)
	}
	if signs(content) > maxSigns {
		return fmt.Sprintf("the file holds more than %d signs that YAML may take for the beginning of a value; divide it or shorten it", maxSigns)
	}
	return ""
}

// withinBounds reads every file of the folder that Load would read, and says whether all may be parsed. Sizes are looked at
// before a file is read.
func (l *loader) withinBounds() bool {
	files, size, signCount := 0, int64(0), 0
	err := fs.WalkDir(l.fsys, ".", func(name string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() || path.Ext(name) != ".yaml" && path.Ext(name) != ".svg" {
			return err
		}
		info, err := entry.Info()
		if err != nil {
			return err
		}
		files, size = files+1, size+info.Size()
		d := l.document(name)
		switch {
		case files > MaxFiles:
			d = l.document(".")
			d.problem(0, "the folder holds more than %d files of tables", MaxFiles)
			return fs.SkipAll
		case size > MaxFolderBytes:
			d = l.document(".")
			d.problem(0, "the folder holds more than %d MiB of tables", MaxFolderBytes>>20)
			return fs.SkipAll
		case info.Size() > MaxFileBytes:
			d.problem(0, "the file is larger than %d KiB; divide it or shorten it", MaxFileBytes>>10)
			return nil
		case path.Ext(name) == ".svg":
			return nil
		}
		content, err := fs.ReadFile(l.fsys, name)
		if err != nil {
			return nil // reading it says why
		}
		if words := tooMuch(content); words != "" {
			d.problem(0, "%s", words)
		}
		if signCount += signs(content); signCount > maxFolderSigns {
			d = l.document(".")
			d.problem(0, "the folder holds more than %d signs that YAML may take for the beginning of a value", maxFolderSigns)
			return fs.SkipAll
		}
		return nil
	})
	return err != nil || len(l.problems) == 0 // that a folder cannot be walked is told by findFiles
}

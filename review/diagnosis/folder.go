package diagnosis

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"strings"
	"testing/fstest"
	"unicode/utf8"
)

// Contents reads a folder of tables into memory: text by slash-separated name. It takes the files that Load looks at,
// that is *.yaml anywhere, pictures/**.svg and plates/*.svg, without names that begin with a dot. It is an error where there are more
// than MaxFiles of them, one is larger than MaxFileBytes, all are larger than MaxFolderBytes together, or one is no UTF-8 text.
func Contents(folder fs.FS) (map[string]string, error) {
	files, total := map[string]string{}, 0
	err := fs.WalkDir(folder, ".", func(name string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if name != "." && strings.HasPrefix(entry.Name(), ".") {
			if entry.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		if entry.IsDir() || !belongs(name) {
			return nil
		}
		if len(files) == MaxFiles {
			return fmt.Errorf("the folder holds more than %d files of tables; nothing was read", MaxFiles)
		}
		content, err := readFile(folder, name)
		if err != nil {
			return err
		}
		if total += len(content); total > MaxFolderBytes {
			return fmt.Errorf("the folder holds more than %d MiB of tables; nothing was read", MaxFolderBytes>>20)
		}
		files[name] = content
		return nil
	})
	if err != nil {
		return nil, err
	}
	return files, nil
}

func belongs(name string) bool {
	drawing := strings.HasPrefix(name, picturesFolder+"/") || strings.HasPrefix(name, platesFolder+"/")
	return path.Ext(name) == ".yaml" || path.Ext(name) == ".svg" && drawing
}

// readFile reads a text of at most MaxFileBytes.
func readFile(folder fs.FS, name string) (string, error) {
	info, err := fs.Stat(folder, name)
	if err != nil {
		return "", err
	}
	if !info.Mode().IsRegular() {
		return "", fmt.Errorf("%s: is no ordinary file", name) // opening a pipe would wait for ever
	}
	file, err := folder.Open(name)
	if err != nil {
		return "", err
	}
	defer file.Close()
	content, err := io.ReadAll(io.LimitReader(file, MaxFileBytes+1))
	switch {
	case err != nil:
		return "", fmt.Errorf("%s: cannot be read: %w", name, err)
	case len(content) > MaxFileBytes:
		return "", fmt.Errorf("%s: is larger than %d KiB; nothing was read", name, MaxFileBytes>>10)
	case !utf8.Valid(content):
		return "", fmt.Errorf("%s: is no UTF-8 text; save it as UTF-8", name)
	}
	return string(content), nil
}

// FromContents is the folder with the given texts by slash-separated name, the inverse of Contents. Later changes of
// the map do not reach it.
func FromContents(files map[string]string) fs.FS {
	// The standard library's only folder in memory stands among its test helpers; it needs nothing of a test.
	folder := make(fstest.MapFS, len(files))
	for name, text := range files {
		folder[name] = &fstest.MapFile{Data: []byte(text), Mode: 0o644}
	}
	return folder
}

// Write writes a folder of tables, as Contents reads it, to a directory that is empty or does not exist yet. It writes
// over nothing: a directory that holds anything is an error.
func Write(folder fs.FS, dir string) error {
	files, err := Contents(folder)
	if err != nil {
		return err
	}
	entries, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("the tables were not written: %w", err)
	}
	if len(entries) > 0 {
		return fmt.Errorf("%s is not empty, and nothing was written; name a new or an empty directory", dir)
	}
	if err := os.CopyFS(dir, FromContents(files)); err != nil {
		return fmt.Errorf("the tables were not written whole; remove %s and try again: %w", dir, err)
	}
	return nil
}

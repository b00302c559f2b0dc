package blob

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"strings"
)

// markFile says whose photos a folder holds. No blob's name begins like this.
const (
	markFile = ".club"
	markWord = "club "
	markText = "The photos of one club of Revidit. Which one says the line below; its database names the same.\n"
)

// Mark is the id of the club whose photos these are, empty where the folder has not been told.
func (d *Dir) Mark() (string, error) {
	text, err := d.root.ReadFile(markFile)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", fmt.Errorf("read whose photos these are: %w", err)
	}
	for line := range strings.Lines(string(text)) {
		if id, found := strings.CutPrefix(strings.TrimSpace(line), markWord); found && id != "" {
			return strings.TrimSpace(id), nil
		}
	}
	return "", fmt.Errorf("the file %s of the photo folder does not say whose photos these are. Restore it from a backup, or remove it and run "+
		"revidit migrate --adopt", markFile)
}

// SetMark says whose photos these are. Everybody who may enter the folder may read the mark, which is no secret: whoever
// keeps the club may have made it as somebody else than who serves it. It is on the disk before SetMark returns, whole or
// not at all.
func (d *Dir) SetMark(id string) error {
	draft := temporary + rand.Text()
	err := d.writeFile(draft, []byte(markText+markWord+id+"\n"))
	if err == nil {
		err = d.root.Chmod(draft, 0o644)
	}
	if err == nil {
		err = d.root.Rename(draft, markFile)
	}
	if err != nil {
		return errors.Join(fmt.Errorf("mark the photo folder: %w", err), d.removeIfThere(draft))
	}
	return d.syncFolder(".")
}

// Empty says whether there are no photo bytes, not even some that were set aside.
func (d *Dir) Empty(ctx context.Context) (bool, error) {
	for _, list := range []func(context.Context, string, int) ([]string, error){d.Stored, d.StoredAside} {
		names, err := list(ctx, "", 1)
		if err != nil || len(names) > 0 {
			return false, err
		}
	}
	return true, nil
}

package proof

import (
	"bufio"
	"errors"
	"fmt"
	"io"

	"golang.org/x/mod/sumdb/tlog"
)

// Leaves is a list of the hashes of all leaves of a tree, as Export writes it: a line for each, and behind an empty line the
// checkpoint that says that it is whole.
type Leaves struct {
	hashes []Hash
	// Checkpoint is that of the list.
	Checkpoint Checkpoint
}

func (l *Leaves) size() int64 { return int64(len(l.hashes)) }

// ReadLeaves reads a list, and refuses one that is not what its checkpoint says: ErrAltered.
func (k Keys) ReadLeaves(r io.Reader) (*Leaves, error) {
	lines := bufio.NewScanner(r)
	list, tree := &Leaves{}, emptyRange()
	for lines.Scan() && len(lines.Bytes()) > 0 {
		h, err := decode(lines.Text())
		if err != nil || len(h) != tlog.HashSize {
			return nil, fmt.Errorf("line %d of the list of leaves is no hash", len(list.hashes)+1)
		}
		list.hashes = append(list.hashes, Hash(h))
		if err := tree.Append(h, nil); err != nil {
			return nil, fmt.Errorf("hash the list of leaves: %w", err)
		}
	}
	var signed string
	for lines.Scan() {
		signed += lines.Text() + "\n"
	}
	if err := lines.Err(); err != nil {
		return nil, fmt.Errorf("read the list of leaves: %w", err)
	}
	if signed == "" {
		return nil, errors.New("the list of leaves has no checkpoint at its end")
	}
	c, err := k.Open(signed)
	if err != nil {
		return nil, fmt.Errorf("the list of leaves: %w", err)
	}
	root, err := rootOf(tree)
	if err != nil {
		return nil, err
	}
	if c.Size != list.size() || c.Root != root {
		return nil, fmt.Errorf("the list of leaves is %w: it has %d, and its checkpoint is of %d events", ErrAltered, list.size(), c.Size)
	}
	list.Checkpoint = c
	return list, nil
}

package proof

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/tlog"
)

// growthHead begins the proof that a tree only added to what it was: the form in which witnesses are asked to sign
// (https://c2sp.org/tlog-witness, add-checkpoint).
const growthHead = "old "

// Continue proves that the tree only added to what it was at a size: a text with that size, the hashes that lead from the one
// root to the other, and the checkpoint of the tree.
func (t Tree) Continue(size int64, signed string) (string, error) {
	hashes, err := t.continues(size)
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("%s%d\n%s\n%s", growthHead, size, hashLines(hashes), signed), nil
}

// IsGrowth says whether a text begins as a proof of Continue does.
func IsGrowth(text string) bool { return strings.HasPrefix(text, growthHead) }

// CheckGrowth checks that the tree of a proof only added to that of a former checkpoint, and returns the checkpoint of the
// proof. ErrAltered: something of the former tree is not what it was.
func (k Keys) CheckGrowth(text string, former Checkpoint) (Checkpoint, error) {
	head, signed, whole := strings.Cut(text, "\n\n")
	first, rest, _ := strings.Cut(head, "\n")
	number, said := strings.CutPrefix(first, growthHead)
	size, err := strconv.ParseInt(number, 10, 64)
	if !whole || !said || err != nil {
		return Checkpoint{}, errors.New("this is no proof that one checkpoint continues another")
	}
	if size != former.Size {
		return Checkpoint{}, fmt.Errorf("this proof begins at a checkpoint of %d events, and the one given is of %d", size, former.Size)
	}
	hashes, err := readHashes(rest)
	if err != nil {
		return Checkpoint{}, err
	}
	c, err := k.Open(signed)
	if err != nil {
		return c, err
	}
	if c.Origin != former.Origin {
		return c, fmt.Errorf("the checkpoint given is of %q, and this proof of %q", former.Origin, c.Origin)
	}
	return c, checkGrowth(hashes, former, c)
}

// checkGrowth checks that a tree only added to a former one that is not empty (RFC 9162, 2.1.4.2).
func checkGrowth(hashes []Hash, former, c Checkpoint) error {
	if former.Size < 1 || former.Size > c.Size {
		return fmt.Errorf("%w: a tree of %d events does not continue one of %d", ErrAltered, c.Size, former.Size)
	}
	if err := tlog.CheckTree(hashes, c.Size, c.Root, former.Size, former.Root); err != nil {
		return fmt.Errorf("%w: the tree of %d events does not only add to that of %d", ErrAltered, c.Size, former.Size)
	}
	return nil
}

package proof

import (
	"encoding/base64"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/tlog"
)

// inclusionHead begins the proof of one event (https://c2sp.org/tlog-proof).
const inclusionHead = "c2sp.org/tlog-proof@v1"

// Include proves that an event stands in the tree: a text with the line of the event, the hashes that lead from it to the root,
// and the checkpoint of the tree. Nothing else is needed to check it but the public key.
func (t Tree) Include(leaf Leaf, signed string) (string, error) {
	line, err := leaf.Line()
	if err != nil {
		return "", err
	}
	hashes, err := t.includes(leaf.Position)
	if err != nil {
		return "", err
	}
	if err := tlog.CheckRecord(hashes, t.Size, t.Root, leaf.Position-1, LeafHash(line)); err != nil {
		return "", fmt.Errorf("%w: event %d of %s at position %d is not the one that the checkpoint of %d events holds", ErrAltered, leaf.Seq, leaf.Stream, leaf.Position, t.Size)
	}
	head := fmt.Sprintf("%s\nextra %s\nindex %d\n", inclusionHead, base64.StdEncoding.EncodeToString(line), leaf.Position-1)
	return head + hashLines(hashes) + "\n" + signed, nil
}

func hashLines(hashes []Hash) string {
	var text strings.Builder
	for _, h := range hashes {
		text.WriteString(base64.StdEncoding.EncodeToString(h[:]) + "\n")
	}
	return text.String()
}

// decode reads base64 as it is written here, and in no other way: the last letter may hold bits that count for nothing, and
// line ends inside are passed over, so that a proof could be altered and still hold.
func decode(text string) ([]byte, error) {
	data, err := base64.StdEncoding.Strict().DecodeString(text)
	if err == nil && base64.StdEncoding.EncodedLen(len(data)) != len(text) {
		err = errors.New("it holds line ends")
	}
	return data, err
}

// readHashes reads lines of hashes.
func readHashes(lines string) (hashes []Hash, err error) {
	for line := range strings.Lines(lines) {
		h, err := decode(strings.TrimSuffix(line, "\n"))
		if err != nil || len(h) != tlog.HashSize {
			return nil, fmt.Errorf("%q is no hash of a proof", strings.TrimSpace(line))
		}
		hashes = append(hashes, Hash(h))
	}
	return hashes, nil
}

// IsInclusion says whether a text begins as the proof of an event does.
func IsInclusion(text string) bool { return strings.HasPrefix(text, inclusionHead+"\n") }

// CheckInclusion checks the proof of one event, and returns the event and the checkpoint of the tree in which it stands.
// ErrAltered: the proof does not hold.
func (k Keys) CheckInclusion(text string) (Leaf, Checkpoint, error) {
	head, signed, whole := strings.Cut(text, "\n\n")
	lines := strings.SplitN(head, "\n", 4)
	if !whole || len(lines) < 3 || lines[0] != inclusionHead {
		return Leaf{}, Checkpoint{}, errors.New("this is no proof of an event")
	}
	extra, hasLine := strings.CutPrefix(lines[1], "extra ")
	number, hasIndex := strings.CutPrefix(lines[2], "index ")
	if !hasLine || !hasIndex {
		return Leaf{}, Checkpoint{}, errors.New("this proof lacks the event, or its place in the tree")
	}
	line, err := decode(extra)
	if err != nil {
		return Leaf{}, Checkpoint{}, fmt.Errorf("the event of this proof cannot be read: %w", err)
	}
	index, err := strconv.ParseInt(number, 10, 64)
	if err != nil {
		return Leaf{}, Checkpoint{}, fmt.Errorf("%q is no place in a tree", number)
	}
	hashes, err := readHashes(strings.Join(lines[3:], ""))
	if err != nil {
		return Leaf{}, Checkpoint{}, err
	}
	c, err := k.Open(signed)
	if err != nil {
		return Leaf{}, Checkpoint{}, err
	}
	if err := checkInclusion(hashes, c, index, LeafHash(line)); err != nil {
		return Leaf{}, c, err
	}
	leaf, err := ReadLeaf(line)
	if err != nil {
		return leaf, c, err
	}
	if leaf.Position != index+1 {
		return leaf, c, fmt.Errorf("%w: the event says position %d and stands at %d", ErrAltered, leaf.Position, index+1)
	}
	return leaf, c, nil
}

// checkInclusion checks that a leaf stands in a tree at an index, which counts from 0 (RFC 9162, 2.1.3.2).
func checkInclusion(hashes []Hash, c Checkpoint, index int64, leaf Hash) error {
	if index < 0 || index >= c.Size {
		return fmt.Errorf("%w: the tree of %d events has none at position %d", ErrAltered, c.Size, index+1)
	}
	if err := tlog.CheckRecord(hashes, c.Size, c.Root, index, leaf); err != nil {
		return fmt.Errorf("%w: the event is not the one at position %d of the tree of %d events", ErrAltered, index+1, c.Size)
	}
	return nil
}

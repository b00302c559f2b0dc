package proof

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"

	"github.com/transparency-dev/merkle/compact"
	"github.com/transparency-dev/merkle/rfc6962"
)

// Check is what an export is held against.
type Check struct {
	Keys Keys
	// Kept are checkpoints that were kept elsewhere: what the export says for itself may have been made anew.
	Kept []Checkpoint
	// Leaves is a list of leaves that was kept elsewhere; nil: none. With it the first event that differs is named.
	Leaves *Leaves
}

// Report is what Verify has found.
type Report struct {
	Events int64 // that were read
	// Holds are the checkpoints that hold, in the order of their sizes: those of the file and those that were kept.
	Holds []Checkpoint
	// Unknown is how many checkpoints of the file no trusted key has signed; they were passed over.
	Unknown int
	Fault   *Fault // the first; nil: everything is what was signed
}

// Newest is the longest tree of which all is what was signed; nil: none.
func (r Report) Newest() *Checkpoint {
	if len(r.Holds) == 0 {
		return nil
	}
	return &r.Holds[len(r.Holds)-1]
}

// FaultKind says what is wrong.
type FaultKind string

const (
	// FaultAltered, FaultAdded, FaultRemoved: the event at Fault.Position, and as many as Fault.Count says.
	FaultAltered FaultKind = "altered"
	FaultAdded   FaultKind = "added"
	FaultRemoved FaultKind = "removed"
	// FaultBetween: something of the positions from Position to Until was altered, added or removed.
	FaultBetween FaultKind = "between"
	// FaultUnsigned: no checkpoint covers the events from Position to Until.
	FaultUnsigned FaultKind = "unsigned"
	// FaultSignature: a checkpoint behind position Until is not what was signed.
	FaultSignature FaultKind = "signature"
)

// Fault is the first thing in a file that is not what was signed.
type Fault struct {
	Kind     FaultKind
	Position int64 // the first one
	Until    int64 // the last one
	Count    int64
	// Event is what the file has at Position; nil where it has nothing there that can be read as an event.
	Event *Leaf
	// Signed is how many events the checkpoint is of that does not hold.
	Signed int64
}

// longestLine bounds the memory that a file can ask for.
const longestLine = 256 << 20

// Verify reads an export. An error is one of reading; what is wrong with the history stands in the report. It needs memory for
// one line, and for the list of leaves.
func (c Check) Verify(r io.Reader) (Report, error) {
	v := verifying{Check: c, lines: bufio.NewScanner(r), tree: emptyRange()}
	v.lines.Buffer(make([]byte, 1<<20), longestLine)
	slices.SortFunc(v.Kept, func(a, b Checkpoint) int { return int(a.Size - b.Size) })
	err := v.all()
	if err == nil {
		err = v.lines.Err()
	}
	if errors.Is(err, bufio.ErrTooLong) {
		err = fmt.Errorf("a line is longer than %d bytes, as none of an export is", longestLine)
	}
	if err == nil && v.report.Fault == nil && len(v.report.Holds) == 0 {
		err = fmt.Errorf("%w: of its %d events nothing can be said", ErrOtherKey, v.report.Events)
	}
	return v.report, err
}

// verifying is one reading.
type verifying struct {
	Check
	lines  *bufio.Scanner
	tree   *compact.Range
	report Report
	signed int64 // up to which position the checkpoints that hold go
}

func emptyRange() *compact.Range {
	return (&compact.RangeFactory{Hash: rfc6962.DefaultHasher.HashChildren}).NewEmptyRange(0)
}

var (
	keyBegins        = []byte(`{"key":`)
	checkpointBegins = []byte(`{"checkpoint":`)
)

func (v *verifying) all() error {
	for v.report.Fault == nil && v.lines.Scan() {
		line := v.lines.Bytes()
		var err error
		switch {
		case bytes.HasPrefix(line, keyBegins):
		case bytes.HasPrefix(line, checkpointBegins):
			err = v.checkpoint(line)
		default:
			err = v.event(line)
		}
		if err != nil {
			return err
		}
	}
	if v.report.Fault == nil {
		v.ended()
	}
	return nil
}

// event takes a line to be one whatever it holds: a line that is none is an altered one.
func (v *verifying) event(line []byte) error {
	h := LeafHash(line)
	if v.Leaves != nil && v.report.Events < v.Leaves.size() && v.Leaves.hashes[v.report.Events] != h {
		v.report.Fault = v.locate(line, h)
		return nil
	}
	v.report.Events++
	if err := v.tree.Append(h[:], nil); err != nil {
		return fmt.Errorf("hash position %d: %w", v.report.Events, err)
	}
	for len(v.Kept) > 0 && v.Kept[0].Size == v.report.Events && v.report.Fault == nil {
		if err := v.hold(v.Kept[0]); err != nil {
			return err
		}
		v.Kept = v.Kept[1:]
	}
	return nil
}

// checkpoint holds one of the file against what was read so far.
func (v *verifying) checkpoint(line []byte) error {
	var read checkpointLine
	if err := json.Unmarshal(line, &read); err != nil {
		v.report.Fault = &Fault{Kind: FaultSignature, Until: v.report.Events}
		return nil
	}
	c, err := v.Keys.Open(read.Checkpoint)
	if errors.Is(err, ErrOtherKey) {
		v.report.Unknown++
		return nil
	}
	if err != nil {
		v.report.Fault = &Fault{Kind: FaultSignature, Until: v.report.Events}
		return nil
	}
	return v.hold(c)
}

// hold compares a checkpoint with what was read so far.
func (v *verifying) hold(c Checkpoint) error {
	if v.Leaves != nil && v.report.Events < c.Size && c.Size <= v.Leaves.size() {
		return nil // events before it are missing: what comes next, or the end, tells which
	}
	root, err := rootOf(v.tree)
	if err != nil {
		return err
	}
	if c.Size != v.report.Events || c.Root != root {
		v.report.Fault = &Fault{Kind: FaultBetween, Position: v.signed + 1, Until: max(c.Size, v.report.Events), Count: v.report.Events - v.signed, Signed: c.Size}
		return nil
	}
	v.signed = c.Size
	v.report.Holds = append(v.report.Holds, c)
	return nil
}

func rootOf(tree *compact.Range) (Hash, error) {
	if tree.End() == 0 {
		return Hash(rfc6962.DefaultHasher.EmptyRoot()), nil
	}
	root, err := tree.GetRootHash(nil)
	if err != nil {
		return Hash{}, fmt.Errorf("hash the tree: %w", err)
	}
	return Hash(root), nil
}

// ended looks at what should have come.
func (v *verifying) ended() {
	read := v.report.Events
	switch {
	case v.Leaves != nil && v.Leaves.size() > read:
		v.report.Fault = &Fault{Kind: FaultRemoved, Position: read + 1, Until: v.Leaves.size(), Count: v.Leaves.size() - read, Signed: v.Leaves.size()}
	case len(v.Kept) > 0:
		last := v.Kept[len(v.Kept)-1]
		v.report.Fault = &Fault{Kind: FaultRemoved, Position: read + 1, Until: last.Size, Count: last.Size - read, Signed: last.Size}
	case v.signed < read && len(v.report.Holds) > 0:
		v.report.Fault = &Fault{Kind: FaultUnsigned, Position: v.signed + 1, Until: read, Count: read - v.signed, Signed: v.signed}
	}
}

// locate tells what has become of the first event that differs from the list of leaves: what the file has there follows later in
// the list, so that events between were removed; or what the list has there follows later in the file, so that events were
// added; else it was altered.
func (v *verifying) locate(line []byte, h Hash) *Fault {
	at := v.report.Events
	f := &Fault{Kind: FaultAltered, Position: at + 1, Until: at + 1, Count: 1, Event: eventIn(line), Signed: v.Leaves.size()}
	if later := slices.Index(v.Leaves.hashes[at:], h); later > 0 {
		f.Kind, f.Count, f.Until, f.Event = FaultRemoved, int64(later), at+int64(later), nil
		return f
	}
	wanted := v.Leaves.hashes[at]
	for n := int64(1); v.lines.Scan(); {
		next := v.lines.Bytes()
		if bytes.HasPrefix(next, checkpointBegins) {
			continue
		}
		if LeafHash(next) == wanted {
			f.Kind, f.Count, f.Until = FaultAdded, n, at+n
			return f
		}
		n++
	}
	return f
}

// eventIn is what can be read of a line.
func eventIn(line []byte) *Leaf {
	leaf, err := ReadLeaf(line)
	if err == nil {
		return &leaf
	}
	if err := json.Unmarshal(line, &leaf); err != nil {
		return nil
	}
	return &leaf
}

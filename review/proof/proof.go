// Package proof makes a history such that nobody can change it unseen, its keeper included.
//
// Each event has one line, its canonical JSON (Leaf). The lines are the leaves of a Merkle tree (RFC 9162, 2.1), in the order
// of their positions: leaf 0 is the event at position 1. A Checkpoint names the size and the root of the tree and is signed, as
// C2SP's tlog-checkpoint says. Whoever keeps a checkpoint can later find out offline, with the public key, that an event stood in
// the tree (Inclusion), that a longer tree only added to a shorter one (Growth), and whether a whole export is what was signed
// (Verify).
//
// The tree is hashed twice over by libraries that know nothing of each other: golang.org/x/mod/sumdb/tlog keeps it in tiles and
// makes proofs, transparency-dev/merkle hashes exports.
package proof

import (
	"errors"

	"golang.org/x/mod/sumdb/tlog"
)

// Hash of a leaf, a node or a root: SHA-256.
type Hash = tlog.Hash

// ErrAltered: something is not what was signed.
var ErrAltered = errors.New("not what was signed")

// LeafHash of a line, without the line feed at its end: SHA-256 of a zero byte and the line (RFC 9162, 2.1.1).
func LeafHash(line []byte) Hash { return tlog.RecordHash(line) }

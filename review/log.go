package review

import "time"

// LogGrowth is what a batch adds to the tree of all events (package proof). A store refuses it, as a lost race, unless the tree
// that it has is of the size From.
type LogGrowth struct {
	From, Size int64 // events
	Root       [32]byte
	Tiles      []LogTile
	// Checkpoint is one of a tree that stands already; nil: none.
	Checkpoint *SignedCheckpoint
}

// LogTile is a piece of the tree, as a whole.
type LogTile struct {
	Level  int
	N      int64
	Hashes []byte
}

// SignedCheckpoint says, with a signature, what the tree was at a size. It is never changed.
type SignedCheckpoint struct {
	Size   int64     `json:"size" doc:"Events of the tree"`
	At     time.Time `json:"at"`
	Signed string    `json:"signed" doc:"The checkpoint as a signed note (c2sp.org/tlog-checkpoint)"`
	Key    string    `json:"key" doc:"The public key by which its signature is checked"`
}

// Sent is what has become of the checkpoint that was last to go outside the database.
type Sent struct {
	At     time.Time `json:"at"`
	Size   int64     `json:"size"`
	Places []string  `json:"places"`
}

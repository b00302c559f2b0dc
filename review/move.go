package review

import "strings"

// QueueMove is what happens to a line of the queue that whoever looks at the list should know, and that lists tell everybody: who
// said what of it is none.
type QueueMove string

const (
	MoveOpened QueueMove = "opened" // it came before reviewers, perhaps again
	MoveHeld   QueueMove = "held"   // somebody holds it
	MoveFreed  QueueMove = "freed"  // nobody does any more
	MoveGone   QueueMove = "gone"   // it is closed, or with its owner
)

var moves = map[string]QueueMove{
	(*Submitted)(nil).EventKind(): MoveOpened, (*Reopened)(nil).EventKind(): MoveOpened, (*Answered)(nil).EventKind(): MoveOpened,
	(*Held)(nil).EventKind(): MoveHeld, (*HoldEnded)(nil).EventKind(): MoveFreed, (*HoldPassedOn)(nil).EventKind(): MoveHeld,
	(*Returned)(nil).EventKind(): MoveGone, (*Confirmed)(nil).EventKind(): MoveGone, (*Redetermined)(nil).EventKind(): MoveGone,
	(*Undetermined)(nil).EventKind(): MoveGone, (*Withdrawn)(nil).EventKind(): MoveGone,
}

// MoveOf is what an event of a kind in a stream moves in the queue; false where it moves nothing.
func MoveOf(stream, kind string) (submission string, move QueueMove, ok bool) {
	submission, of := strings.CutPrefix(stream, SubmissionStream(""))
	move, ok = moves[kind]
	return submission, move, of && ok
}

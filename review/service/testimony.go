package service

import (
	"time"

	"revidit/review"
)

// TestimonyFilter narrows FindTestimonies.
type TestimonyFilter struct {
	Group string
	// Through: only of specimens closed by then; zero does not narrow.
	Through time.Time
	// Waiting: only those from which nothing was learnt yet.
	Waiting bool
	// Latest: the latest closed first, otherwise the earliest.
	Latest bool
	// Unread is called with the stream of each record that cannot be read, which is left out then; nil: it is an error.
	Unread func(stream string)
}

// TestimonyCount counts specimens of a group.
type TestimonyCount struct {
	Latest  time.Time // when the last of them was closed
	Closed  int       // all submissions that came before reviewers are closed
	Waiting int       // of these, those from which nothing was learnt yet
	Open    int       // one of the group came before reviewers, and some submission of the specimen is not closed
}

// DeterminationFilter narrows FindDeterminations.
type DeterminationFilter struct {
	Group string
	// Waiting: only open and returned ones, not those that are confirmed.
	Waiting bool
	// Unread is called with the stream of each record that cannot be read; what belongs to the same specimen is left out
	// then. nil: it is an error.
	Unread func(stream string)
}

// Determined is a submission with its specimen and all submissions of that, the oldest first.
type Determined struct {
	Submission review.Submission
	Specimen   review.Specimen
	Siblings   []review.Submission
}

// ClosingKind is what an act has left that figures of a period are worked out from.
type ClosingKind string

const (
	ClosedTestimony ClosingKind = "testimony" // what was said of a specimen, when the last of its submissions was closed
	ClosedPanel     ClosingKind = "panel"     // a recheck, when its panel was complete
)

// Closing is such a row. It is of the time of the act that has written it, and no later act changes it.
type Closing struct {
	At        time.Time
	Testimony review.Closed     // of ClosedTestimony
	Panel     review.Submission // of ClosedPanel, with no more than ID, Group and Recheck
}

// ClosingFilter narrows FindClosings.
type ClosingFilter struct {
	Group string
	Kind  ClosingKind
	// From and Until bound when they were written: not before From, and before Until; zero times do not.
	From, Until time.Time
	// Unread is called with the stream of what cannot be read and is left out; nil: it is an error.
	Unread func(stream string)
}

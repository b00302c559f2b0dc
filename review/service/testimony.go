package service

import "time"

// TestimonyFilter narrows FindTestimonies.
type TestimonyFilter struct {
	Group string
	// Through: only of specimens closed by then; zero does not narrow.
	Through time.Time
	// Waiting: only those from which nothing was learnt yet.
	Waiting bool
	// Latest: the latest closed first, otherwise the earliest.
	Latest bool
}

// TestimonyCount counts specimens of a group.
type TestimonyCount struct {
	Closed  int // all submissions that came before reviewers are closed
	Waiting int // of these, those from which nothing was learnt yet
	Open    int // one of the group came before reviewers, and some submission of the specimen is not closed
}

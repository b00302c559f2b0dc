package review

import "time"

// Moment is who acts when, and where new ids come from.
type Moment struct {
	Actor Actor
	Now   time.Time
	NewID func() string
}

// Decision is what an act changes: of the submission, and of its specimen.
type Decision struct {
	Submission []Change
	Specimen   []Change
}

package review

import "time"

// Moment is who acts when, and where new ids come from.
type Moment struct {
	Actor Actor
	Now   time.Time
	NewID func() string
}

// NotBefore is the moment, or the latest of these times where the clock has been set back behind it: no event is of an earlier
// time than the one before it in its stream.
func (m Moment) NotBefore(times ...time.Time) Moment {
	for _, t := range times {
		if t.After(m.Now) {
			m.Now = t
		}
	}
	return m
}

// Decision is what an act changes: of the submission, and of its specimen; or of a draft, which it then leaves a draft.
type Decision struct {
	Submission []Change
	Specimen   []Change
	Draft      *Draft
	// Touched notes beside it that a review was opened which a reassessment asked for.
	Touched *TouchedBatch
}

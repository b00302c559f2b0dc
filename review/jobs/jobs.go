// Package jobs holds what is done behind an act, not inside it: kinds of jobs, their arguments and how far they have
// come. It knows no rules and does nothing: package models keeps and runs them, the service knows what each is to do.
//
// A job is named by its kind and its key, and there is one of a name at a time. It is asked for in the transaction of
// its cause, and asking again for what waits changes nothing. It is done in slices of at most half a minute. What a slice
// writes, the cursor where the next one begins, and that next one are stored in one transaction, so that a process that
// is killed loses and repeats nothing. Who asks while it runs gets another run after it. Whatever a job is for can be
// told from what is stored, so that a job that was lost is found again.
package jobs

import (
	"encoding/json"
	"fmt"
	"time"
	"unicode/utf8"
)

// Kind says what a job does. The constants say what enters it, what leaves it, what a crash does and from what it can be
// derived again.
type Kind string

// Job is something to be done.
type Job struct {
	Kind Kind
	// Key says of what: a group of tables, or a group and what else tells two such jobs apart. At most MaxKey bytes.
	Key string
	// Wanted is the version that the result is to have, for example the hash of a release; empty where what is stored
	// when the job begins is what it is to see. Asking for another version while the job runs makes it run again.
	Wanted string
	// Args are a JSON value of at most MaxArgs bytes; nil where kind and key say everything.
	Args json.RawMessage
}

// Limits of a Job.
const (
	MaxKey    = 300
	MaxWanted = 300
	MaxArgs   = 64 << 10
	MaxCursor = 1 << 20 // bytes of Slice.Cursor
)

// Check returns an error where a job could not be stored: a programming fault, never one of a person.
func (j Job) Check() error {
	if _, known := ranks[j.Kind]; !known {
		return fmt.Errorf("there are no jobs of kind %q", j.Kind)
	}
	for _, t := range []struct {
		name, text string
		max        int
	}{{"key", j.Key, MaxKey}, {"wanted version", j.Wanted, MaxWanted}, {"arguments", string(j.Args), MaxArgs}} {
		if len(t.text) > t.max || !utf8.ValidString(t.text) {
			return fmt.Errorf("job %s: the %s has %d bytes, of at most %d, and must be UTF-8", j.Kind, t.name, len(t.text), t.max)
		}
	}
	if j.Args != nil && !json.Valid(j.Args) {
		return fmt.Errorf("job %s: the arguments are no JSON", j.Kind)
	}
	return nil
}

// Status of a job.
type Status string

const (
	// Waiting: asked for; no run of it has begun. Its run makes it Running.
	Waiting Status = "waiting"
	// Running: a run is under way, perhaps between two slices or before another try of one. The last slice makes it Done,
	// or Waiting where it was asked for meanwhile; a slice that has been tried too often makes it Failed.
	Running Status = "running"
	// Done: everything that was asked for is done. Asking makes it Waiting.
	Done Status = "done"
	// Failed: given up; Progress.Error says why. What its slices have stored stays. Asking makes it Waiting, from the start.
	Failed Status = "failed"
)

// Progress is how far a job has come.
type Progress struct {
	Job // as it was asked for last
	// Cursor is where the next slice begins, in JSON that the kind alone understands; nil where no run is under way.
	Cursor json.RawMessage
	// Done of Total, in whatever the kind counts; Total is 0 where it is not known.
	Done, Total int
	Status      Status
	// Tries is how often the next slice was begun without being stored.
	Tries int
	// Error says what went wrong last, for people; empty after a slice that went well.
	Error      string
	AskedAt    time.Time
	StartedAt  *time.Time // of the last run
	UpdatedAt  time.Time
	FinishedAt *time.Time // nil while Waiting or Running
}

// Slice is the part of a run that is to be done now.
type Slice struct {
	Job                    // as it was when the run began
	Cursor json.RawMessage // what the slice before has returned; nil in the first one
	// Done and Total as the slice before has returned them.
	Done, Total int
	// Try is 0 the first time that this slice is done. A slice that was refused because somebody was quicker is tried
	// again at once; smaller slices collide less.
	Try int
	// Newer says that something else is wanted already: the run may end where it stands, as another one follows.
	Newer bool
	// Stop says whether to come to an end with what has been done; nil means never.
	Stop func() bool
}

// Enough says whether the slice has taken its time, or the process is stopping: what has been done is to be returned
// now. Who goes on is cut off some time later, and then all that the slice has done is done again.
func (s Slice) Enough() bool { return s.Stop != nil && s.Stop() }

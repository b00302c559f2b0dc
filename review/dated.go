package review

import "time"

// Dated says when figures were made and what that took; pages read what was made, they do not make it.
type Dated struct {
	MadeAt time.Time `json:"made_at" doc:"When this was made; year 1: not yet"`
	TookMS int64     `json:"took_ms" doc:"Time that it took to make, in milliseconds"`
	// PeakBytes is the most memory that the whole program had in use meanwhile.
	PeakBytes int64 `json:"peak_bytes" doc:"Most memory that the program had in use meanwhile, in bytes; 0: few enough entries to be looked through at once"`
	// Unread are streams of what could not be read, and so took no part.
	Unread []string `json:"unread,omitempty" doc:"Records that could not be read, as names of their streams, and so took no part: revidit rebuild mends them"`
	// Walk is the job that makes it anew; nil where none is asked for.
	Walk *Walk `json:"walk,omitempty"`
}

// Walk is how far a walk through a collection has come.
type Walk struct {
	Done  int    `json:"done"`
	Total int    `json:"total" doc:"0 where it is not known"`
	Error string `json:"error,omitempty" doc:"What went wrong last"`
	// Failed: it was given up, and has to be asked for again.
	Failed bool `json:"failed,omitempty"`
}

// Dated is when and how something was made; zero where nothing was.
func (f *Found) Dated() Dated {
	if f.Made == nil {
		return Dated{}
	}
	return Dated{MadeAt: f.Made.At, TookMS: f.Made.Took.Milliseconds(), PeakBytes: f.Made.Peak}
}

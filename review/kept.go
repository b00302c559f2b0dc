package review

import "time"

// KeptForm is a form that somebody sent whose login had run out: what was typed, for that person alone, for a day. It is shown
// again, and never done by itself.
type KeptForm struct {
	ID     string
	Person string
	Path   string // where it was sent, within this site
	Values map[string][]string
	At     time.Time
}

// MostKept is how many forms are kept of one person: the latest.
const MostKept = 5

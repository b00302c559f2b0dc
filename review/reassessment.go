package review

import (
	"cmp"
	"encoding/json"
	"slices"
	"strings"
)

// Touch is what a change would do to a settled determination.
type Touch string

const (
	// TouchNew: something does not fit the name that did.
	TouchNew Touch = "new-contradiction"
	// TouchGone: what did not fit does.
	TouchGone Touch = "contradiction-gone"
	// TouchBelow: it falls below the confidence that the policy asks for.
	TouchBelow Touch = "below-confidence"
	// TouchNameless: the tables would have no such family.
	TouchNameless Touch = "no-such-family"
)

// Touches are all, in the order in which they are told.
var Touches = []Touch{TouchNew, TouchBelow, TouchNameless, TouchGone}

// CauseKind is what part of a change touches a determination.
type CauseKind string

const (
	CauseCell      CauseKind = "cell"      // of the tables: a family and a character
	CauseCharacter CauseKind = "character" // what the tables say of a character apart from any family
	CauseCommon    CauseKind = "common"    // how common the tables take families for
	CauseFamily    CauseKind = "family"    // which families there are
	CauseThreshold CauseKind = "threshold" // the confidence that the policy asks for
	CauseList      CauseKind = "list"      // the policy's list of what is found here, or of what the prior is mixed
	CausePerson    CauseKind = "person"    // what is known of how somebody reads
	CausePeople    CauseKind = "people"    // what is known of several together
)

// Cause is one part of a change.
type Cause struct {
	Kind      CauseKind `json:"kind" enum:"cell,character,common,family,threshold,list,person,people"`
	Family    string    `json:"family,omitempty" doc:"Of a cell or family"`
	Character string    `json:"character,omitempty" doc:"Of a cell or character"`
	Person    string    `json:"person,omitempty" doc:"Id"`
}

// Key is the cause as text that ParseCause reads.
func (c Cause) Key() string {
	return strings.TrimRight(strings.Join([]string{string(c.Kind), c.Family, c.Character, c.Person}, "|"), "|")
}

// ParseCause reads a Key; what it lacks is empty.
func ParseCause(key string) Cause {
	parts := append(strings.SplitN(key, "|", 4), "", "", "")
	return Cause{Kind: CauseKind(parts[0]), Family: parts[1], Character: parts[2], Person: parts[3]}
}

// Touched is a settled determination that a change would touch. Before and After are its confidence; Detail says what comes or goes, as
// kind, character and state of a contradiction, each behind a space.
type Touched struct {
	Submission string
	Effect     Touch
	Cause      string // key
	Before     float64
	After      float64
	Detail     string
	Opened     bool // a review of it was opened for this
}

// TouchedBatch is what a slice of a walk leaves: Rows are new, Anew takes the place of all that was there, and of Opened reviews were
// opened.
type TouchedBatch struct {
	Change string
	Anew   bool
	Rows   []Touched
	Opened []string
}

// TouchGroup are determinations that one cause touches in one way.
type TouchGroup struct {
	Effect Touch
	Cause  string
}

// Standard names by what determinations are weighed.
type Standard struct {
	Tables      string `json:"tables" doc:"Hash"`
	Release     string `json:"release" doc:"Version of the tables"`
	Policy      int    `json:"policy" doc:"Version; 0: the one that the program starts with, -1: one that nobody has set"`
	Reliability int    `json:"reliability" doc:"Version; 0: nothing is known of anybody"`
}

// ProposedPolicy is the version of a policy that nobody has set.
const ProposedPolicy = -1

// Reweighing is what reassessing compares: all that is settled by one standard and by another.
type Reweighing struct {
	Group string   `json:"group"`
	From  Standard `json:"from"`
	To    Standard `json:"to"`
	// Edits make the tables of To of those of From, where they were not published; Policy is one that nobody has set.
	Edits  json.RawMessage `json:"edits,omitempty" doc:"Of cells"`
	Policy *Policy         `json:"policy,omitempty"`
}

// Reassessment is what a change would do to all settled determinations of a group.
type Reassessment struct {
	Key     string           `json:"key"`
	Of      Reweighing       `json:"of"`
	Looked  int              `json:"looked" doc:"Settled determinations that were looked at"`
	Same    int              `json:"same,omitempty" doc:"Of them, those that stay as they are for certain, since nothing that is stated of them weighs otherwise: their posteriors were not worked out"`
	Touched int              `json:"touched" doc:"Of them, those that the change would touch"`
	Counts  map[Touch]int    `json:"counts" doc:"Of them, how many in each way; one may be touched in several"`
	Groups  []TouchedByCause `json:"groups" nullable:"false" doc:"The largest first; at most 200"`
	Dated

	places map[TouchGroup]int // of Groups
}

// TouchedByCause is a group with how many it holds.
type TouchedByCause struct {
	Effect Touch `json:"effect" enum:"new-contradiction,contradiction-gone,below-confidence,no-such-family"`
	Cause  Cause `json:"cause"`
	N      int   `json:"n"`
	Opened int   `json:"opened" doc:"Of how many of them a review was opened for this"`
}

// mostGroups bounds what a page shows; the rows of all are kept.
const mostGroups = 200

// NewReassessment has found nothing yet.
func NewReassessment(key string, of Reweighing) Reassessment {
	return Reassessment{Key: key, Of: of, Counts: map[Touch]int{}, Groups: []TouchedByCause{}}
}

// Add counts what one determination has come to.
func (r *Reassessment) Add(found []Touched) {
	if len(found) > 0 {
		r.Touched++
	}
	for i, t := range found {
		if !slices.ContainsFunc(found[:i], func(o Touched) bool { return o.Effect == t.Effect }) {
			r.Counts[t.Effect]++
		}
		r.Groups[r.place(TouchGroup{t.Effect, t.Cause})].N++
	}
}

// place is where a group stands among Groups.
func (r *Reassessment) place(g TouchGroup) int {
	if r.places == nil {
		r.places = map[TouchGroup]int{}
		for i, known := range r.Groups {
			r.places[TouchGroup{known.Effect, known.Cause.Key()}] = i
		}
	}
	at, known := r.places[g]
	if !known {
		at = len(r.Groups)
		r.places[g] = at
		r.Groups = append(r.Groups, TouchedByCause{Effect: g.Effect, Cause: ParseCause(g.Cause)})
	}
	return at
}

// Finish puts the largest groups first and leaves out what no page can show.
func (r *Reassessment) Finish() {
	r.places = nil
	slices.SortStableFunc(r.Groups, func(a, b TouchedByCause) int {
		return cmp.Or(cmp.Compare(b.N, a.N), cmp.Compare(slices.Index(Touches, a.Effect), slices.Index(Touches, b.Effect)), cmp.Compare(a.Cause.Key(), b.Cause.Key()))
	})
	r.Groups = r.Groups[:min(len(r.Groups), mostGroups)]
}

// Package key holds printed keys: couplets of two parallel leads, as the trade has printed them since Lamarck (1778, Flore
// françoise), made of a release of the diagnosis tables. Package builder makes them, package trial tries them out; neither knows
// the other.
package key

import (
	"slices"

	"revidit/review/diagnosis"
)

// PreparingEffort is the effort of a look, in glances, from which on a specimen has to be prepared for it: softened, mounted anew,
// opened, wetted, or had alive. The tables have no word for it beside the effort. Assumed, no source.
const PreparingEffort = 10

// MostCharacters is how many characters a lead tells of at most: what is read at one go.
const MostCharacters = 5

// Key is a dichotomous key to families. It is a value: equal for the same tables and choice.
type Key struct {
	Group, Release, Hash string   // of the tables that it was made of
	Families             []string // that it leads to, by name
	Couplets             []Couplet
}

// Couplet is a question with two answers.
type Couplet struct {
	Number int // from 1, in print
	From   int // the couplet that leads here, 0 for the first
	Leads  [2]Lead
	// Preparing: a look that it asks for needs a specimen that is prepared (PreparingEffort), or alive.
	Preparing bool
	// Parted are families whose sexes take different leads here, by name: the sex has to be known, or both are right.
	Parted []string
}

// Lead is one of the two answers. Both leads of a couplet tell of the same characters in the same order.
type Lead struct {
	Says []Saying
	// To is the couplet to go on with; 0 where the lead ends, and then Endings are what it leads to: one family, or several that
	// none of the characters in use tells apart.
	To      int
	Endings []Ending
}

// Saying is what a lead tells of a character: states, or for a length what lies above Over and not above UpTo (mm; 0 for no bound).
type Saying struct {
	Character  string
	States     []string
	Over, UpTo float64
}

// Ending is a family that a lead ends at.
type Ending struct {
	Family string
	Forms  []string // ids of those that come out here where each character is as usual in them
	Sex    string   // "male" or "female" where all these forms are of one sex, else ""
	// Check is what to hold the specimen against at the end: of these Enough have to fit, else the way was wrong. Empty where nothing
	// would tell.
	Check  []Saying
	Enough int
}

// Seen is what somebody sees of a character of a specimen: a state, or a length in mm.
type Seen struct {
	State string
	MM    float64
}

// Fits says whether what is seen is what a lead tells.
func (s *Saying) Fits(seen Seen) bool {
	if s.Over > 0 || s.UpTo > 0 {
		return seen.MM > s.Over && (s.UpTo == 0 || seen.MM <= s.UpTo)
	}
	return slices.Contains(s.States, seen.State)
}

// Usual is the specimen of a form in which each character is as usual: of states the commonest, the first of equals; of a length the
// middle (the geometric mean of the usual range). It is false where the tables do not tell.
func Usual(t *diagnosis.Tables, form *diagnosis.Form, character string) (Seen, bool) {
	cell := form.Cells[character]
	if cell == nil {
		return Seen{}, false
	}
	if cell.P == nil {
		return Seen{MM: middle(cell.Length)}, true
	}
	c, _ := t.Character(character)
	best := 0
	for s, p := range cell.P {
		if p > cell.P[best] {
			best = s
		}
	}
	return Seen{State: c.States[best].ID}, true
}

// Package builder makes a key: the couplets, by what each is expected to tell of the family and by what it takes to look.
//
// It works on made-up specimens as a reader would describe them (samples), and divides these from the top, as trees for
// classification are grown (Breiman et al. 1984, Classification and regression trees; the information gained is that of Quinlan 1986,
// Induction of decision trees, Machine Learning 1: 81-106). A couplet is a vote of up to key.MostCharacters characters, chosen so
// that they part the same families, because whoever misreads one of them should still take the right lead. What is printed of its
// success is not worked out here: package trial tries keys out, and knows nothing of this one.
package builder

import (
	"errors"
	"slices"

	"revidit/review/diagnosis"
	"revidit/review/key"
)

// Reader is for whom a key is made.
type Reader struct {
	Expert   bool
	Ordinary float64 // the probability of reading an ordinary state right, above 0 and below 1
	// Faultless reads everything right and sees everything: nobody does.
	Faultless bool
}

// Choice is what a key is made of.
type Choice struct {
	Families []string           // at least two accepted names of the tables
	Prior    map[string]float64 // weights of families; one that it leaves out, or all where it is nil, weigh the square root of their species
	Reader   Reader
	// Preparing allows characters for which a specimen has to be prepared (key.PreparingEffort).
	Preparing bool
	// Greedy asks for one character a couplet, whichever tells most at once: a baseline to hold other keys against.
	Greedy bool
}

// ErrTooFew is the error of Build where there is nothing to tell apart.
var ErrTooFew = errors.New("a key needs at least two families of the tables")

// builder holds what one key is made of.
type builder struct {
	tables   *diagnosis.Tables
	choice   Choice
	families []*diagnosis.Family
	weights  []float64 // by family
	forms    []form
	allowed  []bool        // by character: may be asked at all
	reading  [][][]float64 // by character and true state: what is said
	hidden   []float64     // by character
	unknown  [][]float64   // by character: background
	samples  samples
	room     room
	tuning   tuning
	scatter  float64 // of tuning, or less where nothing is told otherwise
}

// Build makes a key to the families of the choice; names that the tables do not accept are left out. Equal tables and choices give
// equal keys.
func Build(t *diagnosis.Tables, choice Choice) (*key.Key, error) {
	b := &builder{tables: t, choice: choice, unknown: make([][]float64, len(t.Characters)), tuning: careful}
	if choice.Greedy {
		b.tuning = greedy
	}
	b.gather()
	if len(b.families) < 2 {
		return nil, ErrTooFew
	}
	b.draw()
	return b.print(b.grow()), nil
}

// gather takes up families in the order of the tables, with their forms.
func (b *builder) gather() {
	for i := range b.tables.Families {
		f := &b.tables.Families[i]
		if !slices.Contains(b.choice.Families, f.Name) {
			continue
		}
		for g := range f.Forms {
			b.forms = append(b.forms, form{&f.Forms[g], len(b.families)})
		}
		b.families = append(b.families, f)
		b.weights = append(b.weights, b.weightOf(f))
	}
	for i := range b.tables.Characters {
		c := &b.tables.Characters[i]
		b.allowed = append(b.allowed, (b.choice.Preparing || c.Effort < key.PreparingEffort) && !c.NeverExcludes)
		hidden := hiddenShare(c)
		if b.choice.Reader.Faultless {
			hidden = 0
		}
		b.hidden = append(b.hidden, hidden)
		b.reading = append(b.reading, readings(c, b.choice.Reader))
	}
}

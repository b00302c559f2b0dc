// Package trial tries keys out: made-up specimens are drawn from the diagnosis tables, and a beginner and an expert walk the printed
// couplets with what they see of them. It reads couplets and tables and nothing of the builder.
//
// A specimen has a family by weight, a form by weight, and states as its cells tell, so that no two exclude each other by the meaning
// of the words; characters that depend on each other vary together. What is misread follows package confidence (Sight) and the tables'
// rates of reading; glances at characters that depend on each other go wrong together, and who looks again sees the same again.
package trial

import (
	"errors"
	"math"
	"math/rand/v2"

	"revidit/review/diagnosis"
	"revidit/review/key"
)

// Person is who uses a key.
type Person struct {
	Expert   bool    // reads as reviewers do in the tables, else as members do
	Accuracy float64 // the probability of reading an ordinary state right, above 0 and below 1
}

// Figures are what a trial found.
type Figures struct {
	Specimens int
	Right     float64 // the share of specimens that came to their own family and to no other
	Error     float64 // the standard error of Right
	Steps     float64 // couplets on the way, on average
	Looks     float64 // characters looked at on the way, on average
	Tried     float64 // endings held against their checks, on average
	Guessed   float64 // couplets on the way of which nothing could be seen, on average
	// ByFamily is the share by name, of the specimens of each; Drawn are these.
	ByFamily map[string]float64
	Drawn    map[string]int
}

// Course is what is tried.
type Course struct {
	Key       *key.Key
	Tables    *diagnosis.Tables
	Prior     map[string]float64 // weights of the families of the key; those of the tables where it has none
	Specimens int
	Seed      uint64
}

// ErrNothing is the error of a trial of a key that leads nowhere, or of none at all.
var ErrNothing = errors.New("there is nothing to try: the key has no couplet, or no specimen was asked for")

// Run tries a key. Equal courses and people give equal figures.
func (c Course) Run(person Person) (Figures, error) {
	if len(c.Key.Couplets) == 0 || c.Specimens < 1 {
		return Figures{}, ErrNothing
	}
	w := newWorld(c)
	out := Figures{Specimens: c.Specimens, ByFamily: map[string]float64{}, Drawn: map[string]int{}}
	for i := range c.Specimens {
		s := w.specimen(i)
		way, looks := w.walk(c.Key, &s, person)
		name := w.families[s.family].Name
		out.Drawn[name]++
		out.Steps += float64(way.Steps)
		out.Looks += float64(looks)
		out.Tried += float64(way.Tried)
		out.Guessed += float64(way.Guessed)
		if len(way.Endings) == 1 && way.Endings[0].Family == name {
			out.Right++
			out.ByFamily[name]++
		}
	}
	n := float64(c.Specimens)
	for _, sum := range []*float64{&out.Right, &out.Steps, &out.Looks, &out.Tried, &out.Guessed} {
		*sum /= n
	}
	for name, drawn := range out.Drawn {
		out.ByFamily[name] /= float64(drawn)
	}
	out.Error = math.Sqrt(out.Right * (1 - out.Right) / n)
	return out, nil
}

// walk follows the key as its first page tells, and says how many characters were looked at. Where nothing tells, a coin does.
func (w *world) walk(k *key.Key, s *specimen, person Person) (key.Way, int) {
	seen := map[string]reading{}
	look := func(id string) (key.Seen, bool) {
		r, known := seen[id]
		if !known {
			r = w.read(s, w.tables.CharacterIndex(id), person)
			seen[id] = r
		}
		return r.Seen, r.ok
	}
	way := k.Follow(look, func(couplet int) int { return s.dice(coin, couplet).IntN(2) })
	return way, len(seen)
}

// dice are thrown for one thing of a specimen, with the same result whenever it is looked at.
func (s *specimen) dice(purpose uint64, of int) *rand.Rand {
	return rand.New(rand.NewPCG(s.seed, purpose<<32|uint64(of)))
}

// What the tables' rates of reading take for ordinary: those of a member and of a reviewer (review.RoleAccuracy).
const memberUsual, reviewerUsual = 0.85, 0.95

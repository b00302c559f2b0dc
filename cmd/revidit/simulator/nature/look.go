package nature

import (
	"math"
	"math/rand/v2"
	"strconv"

	"revidit/review/diagnosis"
)

// Answer is what somebody says who is shown a state: confirmed, or not, with the state that they see instead where they
// name one.
type Answer struct {
	Confirms bool
	Better   string
}

const (
	// oneGlance is the probability that what a person reads of one character of a dependent group goes wrong or right
	// together with the others.
	oneGlance = 0.5
	// namesBetter is the probability that somebody who does not agree says what they see instead.
	namesBetter = 0.8
	// measuring is the error of a length in natural logarithms, slip the probability of a gross one, and near what two
	// lengths may differ by to count as the same.
	measuring, slip, near = 0.06, 0.015, 0.12
	// ownMistakes is how far the mistakes of one person differ from those of others, in natural logarithms.
	ownMistakes = 0.5
	oneStep     = 8 // weight of a count that is wrong by one, against 1 for two and nothing for more
)

// slips are the factors by which a length is grossly wrong.
var slips = []float64{0.1, 0.5, 2, 10}

// Reading is what a person sees of a character (by its place in the tables) when looking at the photos, as text.
func (w *World) Reading(specimen, person, character int) string {
	return w.text(&w.Tables.Characters[character], w.read(specimen, person, character))
}

// Verdict is what a reviewer says of a character who is shown a state.
func (w *World) Verdict(specimen, person, character int, shown string) Answer {
	d := w.dice(lookingAt, specimen, person, character)
	if d.Float64() < w.People[person].Anchoring {
		return Answer{Confirms: true}
	}
	c := &w.Tables.Characters[character]
	seen := w.read(specimen, person, character)
	text := w.text(c, seen)
	if text == shown || c.Kind == diagnosis.KindLength && alike(seen.length, shown) {
		return Answer{Confirms: true}
	}
	if d.Float64() < namesBetter {
		return Answer{Better: text}
	}
	return Answer{}
}

// CopiesOf is the person whose answers a person repeats where there are any, and false where there is none.
func (w *World) CopiesOf(person int) (int, bool) {
	other := w.People[person].copiesOf
	return other, other >= 0
}

func alike(length float64, shown string) bool {
	other, err := strconv.ParseFloat(shown, 64)
	return err == nil && math.Abs(math.Log(length/other)) < near
}

func (w *World) text(c *diagnosis.Character, v value) string {
	if c.Kind == diagnosis.KindLength {
		return strconv.FormatFloat(v.length, 'f', 2, 64)
	}
	return c.States[v.state].ID
}

func (w *World) read(specimen, person, c int) value {
	s := &w.Specimens[specimen]
	k := &w.Tables.Characters[c]
	d := w.dice(readingOf, specimen, person, c)
	if k.Kind == diagnosis.KindLength {
		return value{length: measured(d, s.shown[c].length, k)}
	}
	if w.luck(d, specimen, person, c) < w.rightly(person, c, s.shown[c].state) || len(k.States) < 2 {
		return s.shown[c]
	}
	return value{state: pick(d, w.mistakes(k, s.shown[c].state, person+1))}
}

// luck is uniform from 0 to below 1, and often the same for all characters of a dependent group.
func (w *World) luck(d *rand.Rand, specimen, person, character int) float64 {
	own, together := d.Float64(), d.Float64() < oneGlance
	group := w.groups[character]
	if group < 0 || !together {
		return own
	}
	return w.dice(glance, specimen, person, group).Float64()
}

func measured(d *rand.Rand, length float64, c *diagnosis.Character) float64 {
	length *= math.Exp(measuring * d.NormFloat64())
	if d.Float64() < slip {
		length *= slips[d.IntN(len(slips))]
	}
	return min(max(length, c.Min+0.005), c.Max-0.005)
}

// imagination is how much less a striking state is seen where it is not, by the weight of it among mistakes.
const imagination = 0.15

// mixedUp is the weight of one state among the mistakes at another: as the tables say where they name the two.
func mixedUp(c *diagnosis.Character, from, to int) float64 {
	weight := 1.0
	for _, pair := range c.Confused {
		if a, b := c.State(pair.States[0]), c.State(pair.States[1]); a == from && b == to || b == from && a == to {
			weight = pair.Weight
		}
	}
	if c.IsStriking(to) && !c.IsStriking(from) {
		weight *= imagination
	}
	for _, m := range c.Mistaken {
		if c.State(m.From) == from && c.State(m.To) == to {
			weight = m.Weight
		}
	}
	return weight
}

// mistakes are the weights of what a state is mistaken for: what the tables name takes most, and everybody has mistakes of
// their own; habits 0 are nobody's.
func (w *World) mistakes(c *diagnosis.Character, state, habits int) []float64 {
	weights := make([]float64, len(c.States))
	for i := range weights {
		weights[i] = 1
		if c.Kind == diagnosis.KindCount {
			weights[i] = map[int]float64{1: oneStep, 2: 1}[max(i-state, state-i)]
		}
	}
	if c.Kind == diagnosis.KindStates {
		for i := range weights {
			weights[i] = mixedUp(c, state, i)
		}
	}
	if habits > 0 {
		d := w.dice(habit, habits, w.Tables.CharacterIndex(c.ID), state)
		for i := range weights {
			weights[i] *= math.Exp(ownMistakes * d.NormFloat64())
		}
	}
	weights[state] = 0
	return weights
}

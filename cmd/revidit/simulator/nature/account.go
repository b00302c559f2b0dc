package nature

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"

	"revidit/review/diagnosis"
)

// Sheet are the characters that a member states of a specimen, as places in the tables. Who tells Freely was asked for nothing:
// of what strikes the eye beside these characters they said nothing, as often as the tables say.
type Sheet struct {
	Characters []int
	Freely     bool
}

// Account is what a member says of a specimen by a sheet.
type Account struct {
	// Person is a place in World.People; below 0 somebody of whom it is only known that they are a member.
	Person int
	// At is the place on the sheet of what was mistaken; below 0 where that is not known.
	At   int
	said []value // by place on the sheet
}

// AsTables makes a world without specimens in which the tables are true: no cell is wrong, every family is in them, and each is as
// common as the number of its species lets expect. People misread there as in any other.
func AsTables(tables *diagnosis.Tables, seed uint64) *World {
	w := &World{Options: Options{Seed: seed}, Tables: tables}
	w.addFamilies()
	w.addGroups()
	w.addPeople()
	return w
}

// Account takes what somebody has written, state by state of a sheet, as told by a member. The error names the character.
func (w *World) Account(sheet Sheet, written []string) (Account, error) {
	a := Account{Person: -1, At: -1}
	for i, c := range sheet.Characters {
		k := &w.Tables.Characters[c]
		if k.Kind == diagnosis.KindLength {
			length, err := strconv.ParseFloat(written[i], 64)
			if err != nil || !(length > 0) || math.IsInf(length, 0) {
				return a, fmt.Errorf("%s: %q is no length in millimetres", k.ID, written[i])
			}
			a.said = append(a.said, value{length: length})
			continue
		}
		state := k.State(written[i])
		if state < 0 {
			return a, fmt.Errorf("%s: there is no state %q", k.ID, written[i])
		}
		a.said = append(a.said, value{state: state})
	}
	return a, nil
}

// Written is an account as text, state by state of its sheet.
func (w *World) Written(sheet Sheet, a Account) []string {
	var out []string
	for i, c := range sheet.Characters {
		out = append(out, w.text(&w.Tables.Characters[c], a.said[i]))
	}
	return out
}

// mostDraws is how many accounts are drawn to find one with exactly one mistake at a place where they are seldom made.
const mostDraws = 20000

// Mistaken draws what a member says of a specimen of a family (by its place in the tables), who makes exactly one mistake: at a
// place on the sheet, or at any where that is below 0. Equal numbers give equal accounts. It is false where no such mistake came up.
func (e *Expert) Mistaken(family, at, number int) (Account, bool) {
	d := e.w.dice(accountOf, family, at, number)
	for range mostDraws {
		a := e.account(d, family)
		if a.At >= 0 && (at < 0 || a.At == at) {
			return a, true
		}
	}
	return Account{}, false
}

// account draws what a member says of a specimen; At is below 0 unless exactly one thing is mistaken.
func (e *Expert) account(d *rand.Rand, family int) Account {
	a := Account{Person: d.IntN(members), At: -1, said: make([]value, len(e.sheet.Characters))}
	forms := e.families[family]
	weights := make([]float64, len(forms))
	for g := range forms {
		weights[g] = forms[g].weight
	}
	mistakes := 0
	for at, truth := range e.truth(d, &forms[pick(d, weights)]) {
		right := false
		if a.said[at], right = e.say(d, a.Person, at, truth); !right {
			a.At = at
			mistakes++
		}
	}
	if mistakes != 1 {
		a.At = -1
	}
	return a
}

// truth draws the states of a specimen, by place on the sheet.
func (e *Expert) truth(d *rand.Rand, f *knownForm) []value {
	out := make([]value, len(f.cells))
	for _, bundle := range e.bundles {
		if len(bundle) > 1 && d.Float64() < together {
			u := d.Float64()
			for _, at := range bundle {
				out[at] = value{state: quantile(f.cells[at].P, u)}
			}
			continue
		}
		for _, at := range bundle {
			out[at] = draw(d, f.cells[at])
		}
	}
	return out
}

// say is what a person reads of a character, and whether that is right.
func (e *Expert) say(d *rand.Rand, person, at int, truth value) (said value, right bool) {
	c := e.sheet.Characters[at]
	k := &e.w.Tables.Characters[c]
	if k.Kind == diagnosis.KindLength {
		said = value{length: truth.length * math.Exp(measuring*d.NormFloat64())}
		if d.Float64() >= slip {
			return said, true
		}
		said.length *= slips[d.IntN(len(slips))]
		return said, false
	}
	if d.Float64() < e.w.rightly(person, c, truth.state) || len(k.States) < 2 {
		return truth, true
	}
	return value{state: pick(d, e.w.mistakes(k, truth.state, person+1))}, false
}

// bundlesOf are the places of a sheet whose characters vary together, and the others each alone.
func (w *World) bundlesOf(sheet Sheet) [][]int {
	var out [][]int
	for at, c := range sheet.Characters {
		group := w.groupOf(c)
		i := slices.IndexFunc(out, func(b []int) bool { return group >= 0 && w.groupOf(sheet.Characters[b[0]]) == group })
		if i < 0 {
			out = append(out, []int{at})
			continue
		}
		out[i] = append(out[i], at)
	}
	return out
}

// groupOf is the group with which a character varies; below 0 where it has no states to vary.
func (w *World) groupOf(character int) int {
	if cell := w.families[0].forms[0].cells[character]; cell == nil || cell.P == nil {
		return -1
	}
	return w.groups[character]
}

package confidence

import "slices"

// groupsOf lists the dependence groups of a character.
func groupsOf(dependent []Dependent, character int) []int {
	var groups []int
	for g, d := range dependent {
		if contains(d.Characters, character) {
			groups = append(groups, g)
		}
	}
	return groups
}

// exponentsOf are those that a character may have, each once, but for 1.
func exponentsOf(dependent []Dependent, character int) []float64 {
	var exponents []float64
	for _, g := range groupsOf(dependent, character) {
		if e := dependent[g].Exponent; e != 1 && !slices.Contains(exponents, e) {
			exponents = append(exponents, e)
		}
	}
	return exponents
}

// fillExponents sets the exponent of each seen character, as if the one at index without were not there.
func (m *Model) fillExponents(exponents []float64, seen []int, without int) {
	var room [32]int
	members := m.members(room[:0], seen, without)
	for i, c := range seen {
		exponents[i] = m.exponent(c, members, 2)
	}
}

// members appends how many of the seen characters each dependence group has, without the one at an index.
func (m *Model) members(room []int, seen []int, without int) []int {
	for range m.dependent {
		room = append(room, 0)
	}
	for i, c := range seen {
		if i == without {
			continue
		}
		for _, g := range m.groups[c] {
			room[g]++
		}
	}
	return room
}

// exponent is the smallest of the groups of a character that have so many members.
func (m *Model) exponent(character int, members []int, least int) float64 {
	e := 1.0
	for _, g := range m.groups[character] {
		if members[g] >= least {
			e = min(e, m.dependent[g].Exponent)
		}
	}
	return e
}

func contains(list []int, c int) bool {
	for _, other := range list {
		if other == c {
			return true
		}
	}
	return false
}

package confidence

import "math/rand/v2"

// simulation is a club whose true accuracies and anchoring are known.
type simulation struct {
	random    *rand.Rand
	panel     Panel
	accuracy  []float64 // by person and region
	anchoring []float64
	blind     float64 // share of blind checks among reviewers' reports
}

// newSimulation draws accuracies from 0.7 to 0.95 and anchoring from 0.1 to 0.6. The role, one for each person, is off
// by the given amount in accuracy, up or down; its anchoring is 0.3.
func newSimulation(seed uint64, persons, regions int, off, blind float64) *simulation {
	s := &simulation{random: rand.New(rand.NewPCG(seed, 7)), blind: blind}
	s.panel = Panel{Regions: regions}
	for region := range regions {
		s.panel.Characters = append(s.panel.Characters,
			Character{States: 2}, Character{States: 4, Confused: []Confused{{From: 0, To: 1, Weight: 6}, {From: 1, To: 0, Weight: 6}}}, Character{Kind: Count, States: 5})
		s.panel.Region = append(s.panel.Region, region, region, region)
	}
	for j := range persons {
		mean := 0.7 + 0.2*s.random.Float64()
		for range regions {
			s.accuracy = append(s.accuracy, mean+0.05*s.random.Float64())
		}
		s.anchoring = append(s.anchoring, 0.1+0.5*s.random.Float64())
		if j%2 == 0 {
			off = -off
		}
		s.panel.Roles = append(s.panel.Roles, RoleOf(min(mean+0.025+off, 0.98), 0.3, 10))
		s.panel.Persons = append(s.panel.Persons, j)
	}
	return s
}

// directed makes one state of each character with two or four states striking: overlooked four times in ten and hardly ever
// imagined, as seen by everybody.
func (s *simulation) directed() *simulation {
	for i, c := range s.panel.Characters {
		if c.Kind != Nominal {
			continue
		}
		for range s.panel.Roles {
			ease := []float64{0.3, 20, 1, 1}[:c.States]
			s.panel.Characters[i].Ease = append(s.panel.Characters[i].Ease, ease)
		}
	}
	return s
}

// item has one observer and three reviewers, who are shown what the observer stated unless they look blind.
func (s *simulation) item() Item {
	character := s.random.IntN(len(s.panel.Characters))
	e := newErrorTable(s.panel.Characters[character], 0)
	item := Item{Character: character, Prior: s.distribution(e.states)}
	state := s.draw(item.Prior)
	if s.random.Float64() < s.panel.SharedError {
		state = s.misread(&e, state)
	}
	people := s.people(4)
	shown := s.read(people[0], &e, character, state)
	item.Verdicts = append(item.Verdicts, Verdict{Person: people[0], State: shown, Better: NoState})
	for _, person := range people[1:] {
		item.Verdicts = append(item.Verdicts, s.verdict(person, &e, character, state, shown))
	}
	return item
}

func (s *simulation) verdict(person int, e *errorTable, character, state, shown int) Verdict {
	read := s.read(person, e, character, state)
	v := Verdict{Person: person, State: shown, Better: NoState}
	switch {
	case s.random.Float64() < s.blind:
		v.Blind, v.State = true, read
	case s.random.Float64() < s.anchoring[person] || read == shown:
		v.Kind = Confirmed
	default:
		v.Kind = Disputed
		if s.names(person) {
			v.Better = read
		}
	}
	return v
}

// names says whether a person names the better state in disputes: the model has a report for either habit.
func (s *simulation) names(person int) bool { return person%3 > 0 }

// people draws different people.
func (s *simulation) people(n int) []int {
	var out []int
	for len(out) < n {
		if j := s.random.IntN(len(s.panel.Persons)); !contains(out, j) {
			out = append(out, j)
		}
	}
	return out
}

func (s *simulation) read(person int, e *errorTable, character, state int) int {
	right := s.accuracy[person*s.panel.Regions+s.panel.Region[character]]
	if ease := s.panel.Characters[character].Ease; ease != nil {
		odds := right / (1 - right) * ease[person][state]
		right = odds / (1 + odds)
	}
	if s.random.Float64() < right {
		return state
	}
	return s.misread(e, state)
}

func (s *simulation) misread(e *errorTable, state int) int {
	row := make([]float64, e.states)
	for a := range row {
		row[a] = e.wrong[a*e.states+state]
	}
	return s.draw(row)
}

func (s *simulation) distribution(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = s.random.ExpFloat64()
	}
	orUniform(out)
	return out
}

func (s *simulation) draw(p []float64) int {
	u := s.random.Float64()
	for i, v := range p {
		if u -= v; u < 0 {
			return i
		}
	}
	return len(p) - 1
}

// items are about verdicts for each person and region.
func (s *simulation) items(verdicts int) []Item {
	items := make([]Item, verdicts*len(s.accuracy)/4)
	for i := range items {
		items[i] = s.item()
	}
	return items
}

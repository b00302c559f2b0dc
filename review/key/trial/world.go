package trial

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
	"revidit/review/key"
)

// What chance is for.
const (
	birth uint64 = iota + 1
	sight
	glance
	mounting
	coin
)

const (
	// together is the probability that characters that depend on each other vary together in a specimen, oneGlance that they are
	// read well or badly together. Assumed, no source.
	together, oneGlance = 0.5, 0.5
	// attempts to draw a specimen that is possible.
	attempts = 50
	// measuring is the error of a length, in natural logarithms. Assumed, no source.
	measuring = 0.06
	// fifth is the distance of the 5th percentile of a normal distribution from its middle, in standard deviations.
	fifth = 1.6448536269514722
	// near and far are the weights of a count that is wrong by one and by two.
	near, far = 8, 1
)

// How specimens stand in drawers. Assumed, common practice, no source: every third one is glued to a card, which hides most of the
// underside and some of the legs; of pinned ones legs and dirt hide a little.
const (
	glued          = 1.0 / 3
	cardUnderside  = 0.5
	cardLegs       = 0.15
	pinUnderside   = 0.06
	pinLegs        = 0.03
	antennaBroken  = 0.05
	elsewhereUnder = 0.01
)

// world is what specimens are drawn from.
type world struct {
	tables   *diagnosis.Tables
	seed     uint64
	families []*diagnosis.Family
	weights  []float64
	group    []int         // by character: the dependent group, -1 for none
	mistakes [][][]float64 // by character and state
	exclude  []pair
	atMost   [][2]int
}

// pair are states of two characters that no specimen has together.
type pair struct {
	a, b         int
	aside, bside []bool
}

// value is a state or a length in mm; known is false where the tables say nothing.
type value struct {
	state int
	mm    float64
	known bool
}

type specimen struct {
	family int
	seed   uint64
	truth  []value
	glued  bool
	luck   map[int]float64 // by dependent group
}

type reading struct {
	key.Seen
	ok bool
}

func newWorld(c Course) *world {
	w := &world{tables: c.Tables, seed: c.Seed}
	for _, name := range c.Key.Families {
		f, ok := c.Tables.Family(name)
		if !ok {
			continue
		}
		weight := c.Prior[name]
		if weight <= 0 {
			weight = math.Sqrt(float64(max(f.Species, 1)))
		}
		w.families, w.weights = append(w.families, f), append(w.weights, weight)
	}
	for i := range c.Tables.Characters {
		id := c.Tables.Characters[i].ID
		w.group = append(w.group, slices.IndexFunc(c.Tables.Dependent, func(d diagnosis.Dependent) bool { return slices.Contains(d.Characters, id) }))
		w.mistakes = append(w.mistakes, mistakesOf(&c.Tables.Characters[i]))
	}
	for _, rule := range c.Tables.Incompatible {
		p := pair{a: c.Tables.CharacterIndex(rule.First.Character), b: c.Tables.CharacterIndex(rule.Second.Character)}
		p.aside, p.bside = statesOf(c.Tables, rule.First), statesOf(c.Tables, rule.Second)
		w.exclude = append(w.exclude, p)
	}
	for _, rule := range c.Tables.AtMost {
		w.atMost = append(w.atMost, [2]int{c.Tables.CharacterIndex(rule.Less), c.Tables.CharacterIndex(rule.More)})
	}
	return w
}

func statesOf(t *diagnosis.Tables, s diagnosis.Selection) []bool {
	c, _ := t.Character(s.Character)
	in := make([]bool, len(c.States))
	for i := range c.States {
		in[i] = slices.Contains(s.States, c.States[i].ID)
	}
	return in
}

// mistakesOf are, by state that is there, the weights of what is read in its place.
func mistakesOf(c *diagnosis.Character) [][]float64 {
	all := make([][]float64, len(c.States))
	for from := range all {
		all[from] = make([]float64, len(c.States))
		for to := range c.States {
			switch steps := max(from-to, to-from); {
			case steps == 0 || c.Kind == diagnosis.KindCount && steps > 2:
			case c.Kind == diagnosis.KindCount && steps == 2:
				all[from][to] = far
			case c.Kind == diagnosis.KindCount:
				all[from][to] = near
			default:
				all[from][to] = c.MistakenFor(from, to)
			}
		}
	}
	return all
}

func (w *world) specimen(i int) specimen {
	s := specimen{seed: w.seed*0x9e3779b97f4a7c15 + uint64(i), luck: map[int]float64{}}
	d := s.dice(birth, 0)
	s.family = pick(d, w.weights)
	forms := w.families[s.family].Forms
	weights := make([]float64, len(forms))
	for g := range forms {
		weights[g] = forms[g].Weight
	}
	s.truth = w.truth(d, &forms[pick(d, weights)])
	s.glued = s.dice(mounting, 0).Float64() < glued
	for g := range w.tables.Dependent {
		if luck := s.dice(glance, g); luck.Float64() < oneGlance {
			s.luck[g] = luck.Float64()
		}
	}
	return s
}

// truth draws all states of a form, anew where two exclude each other.
func (w *world) truth(d *rand.Rand, form *diagnosis.Form) []value {
	common := map[int]float64{}
	for g := range w.tables.Dependent {
		if d.Float64() < together {
			common[g] = d.Float64()
		}
	}
	out := make([]value, len(w.tables.Characters))
	for c := range out {
		u, shared := common[w.group[c]]
		if !shared {
			u = d.Float64()
		}
		out[c] = draw(form.Cells[w.tables.Characters[c].ID], u)
	}
	for range attempts {
		a, b := w.impossible(out)
		if a < 0 {
			break
		}
		out[a] = draw(form.Cells[w.tables.Characters[a].ID], d.Float64())
		out[b] = draw(form.Cells[w.tables.Characters[b].ID], d.Float64())
	}
	return out
}

// impossible are two characters whose states exclude each other, or -1.
func (w *world) impossible(v []value) (a, b int) {
	for _, p := range w.exclude {
		if v[p.a].known && v[p.b].known && p.aside[v[p.a].state] && p.bside[v[p.b].state] {
			return p.a, p.b
		}
	}
	for _, p := range w.atMost {
		if v[p[0]].known && v[p[1]].known && w.count(p[0], v[p[0]]) > w.count(p[1], v[p[1]]) {
			return p[0], p[1]
		}
	}
	return -1, -1
}

func (w *world) count(c int, v value) int { return int(w.tables.Characters[c].Min) + v.state }

// draw is what a cell shows at a luck of u, from 0 to below 1: the most usual near 0. Of lengths the luck goes from short to long.
func draw(cell *diagnosis.Cell, u float64) value {
	if cell == nil {
		return value{}
	}
	if cell.P == nil {
		return value{mm: lengthAt(cell.Length, u), known: true}
	}
	order := make([]int, len(cell.P))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(cell.P[b], cell.P[a]) })
	for _, i := range order {
		if u -= cell.P[i]; u < 0 {
			return value{state: i, known: true}
		}
	}
	return value{state: order[0], known: true}
}

func lengthAt(l diagnosis.Length, u float64) float64 {
	mean, sd := (math.Log(l.Usual[0])+math.Log(l.Usual[1]))/2, (math.Log(l.Usual[1])-math.Log(l.Usual[0]))/2/fifth
	z := math.Sqrt2 * math.Erfinv(2*min(max(u, 1e-9), 1-1e-9)-1)
	return min(max(math.Exp(mean+sd*z), l.Min), l.Max)
}

func pick(d *rand.Rand, weights []float64) int {
	total := 0.0
	for _, x := range weights {
		total += x
	}
	u := d.Float64() * total
	for i, x := range weights {
		if u -= x; u < 0 {
			return i
		}
	}
	return len(weights) - 1
}

// read is what a person sees of a character of a specimen.
func (w *world) read(s *specimen, c int, person Person) reading {
	v, d, k := s.truth[c], s.dice(sight, c), &w.tables.Characters[c]
	if !v.known || d.Float64() < s.hides(k) {
		return reading{}
	}
	if k.Kind == diagnosis.KindLength {
		return reading{key.Seen{MM: v.mm * math.Exp(measuring*d.NormFloat64())}, true}
	}
	luck, shared := s.luck[w.group[c]]
	if own := d.Float64(); !shared {
		luck = own
	}
	state := v.state
	if luck >= rightly(k, state, person) && len(k.States) > 1 {
		state = pick(d, w.mistakes[c][state])
	}
	return reading{key.Seen{State: k.States[state].ID}, true}
}

// rightly is how often a person reads a state right: an ordinary one with their accuracy, others as the tables' rate lies above or
// below that of an ordinary one (confidence.Sight).
func rightly(c *diagnosis.Character, state int, person Person) float64 {
	if c.Read == nil {
		return person.Accuracy
	}
	rate, usual := c.Read[state].Member, memberUsual
	if person.Expert {
		rate, usual = c.Read[state].Reviewer, reviewerUsual
	}
	if rate == 0 {
		return person.Accuracy
	}
	return confidence.Sight(person.Accuracy, rate/(1-rate)*(1-usual)/usual)
}

// hides is how often a character cannot be seen on a specimen as it is mounted.
func (s *specimen) hides(c *diagnosis.Character) float64 {
	switch c.Region {
	case "underside":
		if s.glued {
			return cardUnderside
		}
		return pinUnderside
	case "legs":
		if s.glued {
			return cardLegs
		}
		return pinLegs
	case "antenna":
		return antennaBroken
	}
	return elsewhereUnder
}

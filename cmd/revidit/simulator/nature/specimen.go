package nature

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"revidit/review/diagnosis"
)

// Specimen is one beetle on a pin.
type Specimen struct {
	True  string // family, or NoListedFamily
	Owner int
	// Proposed is the name that the owner gives.
	Proposed string
	// First are the characters that the owner states by themselves, as places in the tables.
	First []int

	family int
	form   int
	truth  []value // by character
	shown  []value // what the photos show: the truth, or what misleads everybody
	// deceptive specimens look like deceives, another family, to whoever goes by the look of it.
	deceptive bool
	deceives  int
}

// value is a state, or a length in millimetres.
type value struct {
	state  int
	length float64
}

const (
	fewest, most = 5, 8 // characters that an owner states without being asked
	// misleads is the probability that a specimen misleads everybody about an ordinary state, badPhoto that one of its photos
	// is bad, and misleadsBadly what such a photo does with each character that is seen on it.
	misleads      = 0.01
	badPhoto      = 0.04
	misleadsBadly = 0.4
	looksLike     = 0.05 // specimens that look like another family
	attempts      = 50   // to draw a specimen that is possible at all
)

func (w *World) specimen(i int) Specimen {
	d := w.dice(specimenOf, i)
	weights := make([]float64, len(w.families))
	for f := range w.families {
		weights[f] = w.families[f].weight
	}
	s := Specimen{family: pick(d, weights), Owner: d.IntN(members)}
	f := &w.families[s.family]
	s.True = f.name
	forms := make([]float64, len(f.forms))
	for g := range f.forms {
		forms[g] = f.forms[g].weight
	}
	s.form = pick(d, forms)
	s.First = w.first(d, f.forms[s.form])
	s.truth = w.states(d, f.forms[s.form])
	s.deceptive, s.deceives = d.Float64() < looksLike, w.mistaken(d, s.family)
	w.show(i, &s)
	return s
}

// first draws the characters that an owner looks at, those that can be seen from many sides more often.
func (w *World) first(d *rand.Rand, f form) []int {
	weights := make([]float64, len(w.Tables.Characters))
	left := 0
	for c := range w.Tables.Characters {
		if f.cells[c] != nil {
			weights[c] = float64(len(w.Tables.Characters[c].Views))
			left++
		}
	}
	var out []int
	for range min(fewest+d.IntN(most-fewest+1), left) {
		c := pick(d, weights)
		weights[c] = 0
		out = append(out, c)
	}
	return out
}

// together is the probability that the characters of a dependent group vary together in a specimen: what is unusual in
// one is unusual in all.
const together = 0.5

// states draws the true states, anew where two exclude each other by the meaning of the words.
func (w *World) states(d *rand.Rand, f form) []value {
	common := map[int]float64{}
	for g := range w.Tables.Dependent {
		if d.Float64() < together {
			common[g] = d.Float64()
		}
	}
	out := make([]value, len(f.cells))
	for c := range out {
		u, ok := common[w.groups[c]]
		if !ok || f.cells[c] == nil || f.cells[c].P == nil {
			out[c] = draw(d, f.cells[c])
			continue
		}
		out[c] = value{state: quantile(f.cells[c].P, u)}
	}
	for range attempts {
		a, b := w.impossible(out)
		if a < 0 {
			break
		}
		out[a], out[b] = draw(d, f.cells[a]), draw(d, f.cells[b])
	}
	return out
}

// quantile is a state, the most usual for a u near 0, the least usual for one near 1.
func quantile(p []float64, u float64) int {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(p[b], p[a]) })
	for _, i := range order {
		if u -= p[i]; u < 0 {
			return i
		}
	}
	return order[0]
}

// fromFifth is the distance of the 5th percentile of a normal distribution from its middle, in standard deviations.
const fromFifth = 1.6448536269514722

func draw(d *rand.Rand, cell *diagnosis.Cell) value {
	if cell == nil {
		return value{}
	}
	if cell.P != nil {
		return value{state: pick(d, cell.P)}
	}
	l := cell.Length
	low, high := math.Log(l.Usual[0]), math.Log(l.Usual[1])
	x := (low+high)/2 + d.NormFloat64()*(high-low)/(2*fromFifth)
	return value{length: min(max(math.Exp(x), l.Min), l.Max)}
}

// impossible are the first two characters whose states exclude each other, or -1.
func (w *World) impossible(states []value) (int, int) {
	is := func(s diagnosis.Selection) bool {
		at := w.Tables.CharacterIndex(s.Character)
		c := &w.Tables.Characters[at]
		return len(c.States) > 0 && slices.Contains(s.States, c.States[states[at].state].ID)
	}
	for _, rule := range w.Tables.Incompatible {
		if is(rule.First) && is(rule.Second) {
			return w.Tables.CharacterIndex(rule.First.Character), w.Tables.CharacterIndex(rule.Second.Character)
		}
	}
	return -1, -1
}

// show decides what the photos show.
func (w *World) show(i int, s *Specimen) {
	d := w.dice(misledOn, i)
	bad := ""
	if d.Float64() < badPhoto {
		bad = w.Photo(i, d.IntN(len(w.Tables.Characters)))
	}
	s.shown = slices.Clone(s.truth)
	for c := range s.shown {
		k := &w.Tables.Characters[c]
		p := misleads
		if bad != "" && w.Photo(i, c) == bad {
			p = misleadsBadly
		}
		if len(k.States) > 1 && d.Float64() < w.misleading(k, s.truth[c].state, p) {
			s.shown[c].state = pick(d, w.mistakes(k, s.truth[c].state, 0))
		}
	}
}

// misleading is the probability that a state is not shown as it is: what reviewers nearly always read right seldom is.
func (w *World) misleading(c *diagnosis.Character, state int, ordinary float64) float64 {
	if c.Read == nil || c.Read[state].Reviewer == 0 {
		return ordinary
	}
	return min(ordinary, 2*ordinary*(1-c.Read[state].Reviewer)/(1-tableReviewer))
}

// Photo is the view on which a character of a specimen is photographed, or "" where it needs none.
func (w *World) Photo(specimen, character int) string {
	views := w.Tables.Characters[character].Views
	if len(views) == 0 {
		return ""
	}
	return views[w.dice(photographed, specimen, character).IntN(len(views))]
}

package nature

import (
	"math"
	"slices"

	"revidit/review/diagnosis"
)

// Expert is somebody who knows a world as it is: how common families are, how their forms look and vary, who misreads what and
// how often. What they make of an account is Bayes' theorem with nothing assumed or left out, so that nobody who weighs the
// same account is right more often in that world: a bound of every way of weighing.
type Expert struct {
	w        *World
	sheet    Sheet
	bundles  [][]int
	families [][]knownForm // by family
}

// knownForm is a form as far as a sheet goes.
type knownForm struct {
	weight float64           // of the family and the form, and of what was not mentioned
	cells  []*diagnosis.Cell // by place on the sheet
	spans  [][]span          // by bundle; of those that vary together
}

// span is a stretch of the luck that characters have in common, in which none of them changes its state.
type span struct {
	width  float64
	states []int
}

// NewExpert is one for a sheet.
func NewExpert(w *World, sheet Sheet) *Expert {
	e := &Expert{w: w, sheet: sheet, bundles: w.bundlesOf(sheet)}
	for i := range w.families {
		var forms []knownForm
		for _, g := range w.families[i].forms {
			known := knownForm{weight: w.families[i].weight * g.weight * w.unmentioned(sheet, g)}
			for _, c := range sheet.Characters {
				known.cells = append(known.cells, g.cells[c])
			}
			for _, bundle := range e.bundles {
				known.spans = append(known.spans, spansOf(known.cells, bundle))
			}
			forms = append(forms, known)
		}
		e.families = append(e.families, forms)
	}
	return e
}

// unmentioned is the probability that somebody who tells a sheet freely says no more of a specimen of a form.
func (w *World) unmentioned(sheet Sheet, f form) float64 {
	product := 1.0
	if !sheet.Freely {
		return product
	}
	for c := range w.Tables.Characters {
		k := &w.Tables.Characters[c]
		inView := func(at int) bool { return k.InView(w.Tables.Characters[at].Region) }
		if k.Mentioned == nil || f.cells[c] == nil || slices.Contains(sheet.Characters, c) || !slices.ContainsFunc(sheet.Characters, inView) {
			continue
		}
		silent := 0.0
		for s, p := range f.cells[c].P {
			silent += p * (1 - k.Mentioned[s])
		}
		product *= silent
	}
	return product
}

// spansOf cuts the common luck of a bundle where one of its characters changes its state; none where one stands alone.
func spansOf(cells []*diagnosis.Cell, bundle []int) []span {
	if len(bundle) < 2 {
		return nil
	}
	cuts := []float64{0, 1}
	for _, at := range bundle {
		sum := 0.0
		for _, p := range slices.Backward(slices.Sorted(slices.Values(cells[at].P))) {
			sum += p
			cuts = append(cuts, min(sum, 1))
		}
	}
	slices.Sort(cuts)
	var out []span
	for i, to := range cuts[1:] {
		s := span{width: to - cuts[i]}
		if s.width <= 0 {
			continue
		}
		for _, at := range bundle {
			s.states = append(s.states, quantile(cells[at].P, (cuts[i]+to)/2))
		}
		out = append(out, s)
	}
	return out
}

// chance is how probable something is that was said: with no mistake in it, with exactly one, and with however many there are.
type chance struct{ none, one, any float64 }

func (c chance) and(o chance) chance {
	return chance{c.none * o.none, c.one*o.none + c.none*o.one, c.any * o.any}
}

func (c chance) or(o chance, share float64) chance {
	return chance{c.none + share*o.none, c.one + share*o.one, c.any + share*o.any}
}

// sight is how one person comes to say what they said of one character.
type sight struct {
	said  value
	right float64   // where it is true
	wrong []float64 // by true state, where it is not; nil of a length
}

// at is the probability of saying it where a state is true.
func (s *sight) at(state int) chance {
	if state == s.said.state {
		return chance{none: s.right, any: s.right}
	}
	return chance{one: s.wrong[state], any: s.wrong[state]}
}

// Families are the probabilities of all families, in the order of the tables, after an account: to an expert who knows that exactly
// one thing in it is mistaken, and to one who does not know how many are. Both know the person, but for one who is only some member.
func (e *Expert) Families(a Account) (one, any []float64) {
	people := []int{a.Person}
	if a.Person < 0 {
		people = people[:0]
		for i := range members {
			people = append(people, i)
		}
	}
	one, any = make([]float64, len(e.families)), make([]float64, len(e.families))
	for _, person := range people {
		sights := e.sights(person, a)
		for f, forms := range e.families {
			for g := range forms {
				c := e.said(&forms[g], sights)
				one[f] += forms[g].weight * c.one
				any[f] += forms[g].weight * c.any
			}
		}
	}
	return normalised(one), normalised(any)
}

func normalised(p []float64) []float64 {
	total := 0.0
	for _, x := range p {
		total += x
	}
	for i := range p {
		p[i] /= total
	}
	return p
}

func (e *Expert) sights(person int, a Account) []sight {
	out := make([]sight, len(a.said))
	for at, said := range a.said {
		c := e.sheet.Characters[at]
		k := &e.w.Tables.Characters[c]
		out[at].said = said
		if k.Kind == diagnosis.KindLength {
			continue
		}
		out[at].right = 1
		if len(k.States) > 1 {
			out[at].right = e.w.rightly(person, c, said.state)
		}
		out[at].wrong = make([]float64, len(k.States))
		for s := range k.States {
			if s != said.state {
				out[at].wrong[s] = (1 - e.w.rightly(person, c, s)) * shareOf(e.w.mistakes(k, s, person+1), said.state)
			}
		}
	}
	return out
}

func shareOf(weights []float64, i int) float64 {
	total := 0.0
	for _, w := range weights {
		total += w
	}
	return weights[i] / total
}

// said is the probability of an account of a specimen of a form.
func (e *Expert) said(f *knownForm, sights []sight) chance {
	all := chance{1, 0, 1}
	for b, bundle := range e.bundles {
		alone := chance{1, 0, 1}
		for _, at := range bundle {
			alone = alone.and(ofCell(f.cells[at], &sights[at]))
		}
		if len(bundle) == 1 {
			all = all.and(alone)
			continue
		}
		each := chance{}.or(alone, 1-together)
		for _, s := range f.spans[b] {
			tied := chance{1, 0, 1}
			for i, at := range bundle {
				tied = tied.and(sights[at].at(s.states[i]))
			}
			each = each.or(tied, together*s.width)
		}
		all = all.and(each)
	}
	return all
}

// ofCell is the probability of what was said of one character by itself.
func ofCell(cell *diagnosis.Cell, s *sight) chance {
	if cell == nil { // no family has the character
		return chance{1, 0, 1}
	}
	if cell.P == nil {
		return ofLength(cell.Length, math.Log(s.said.length))
	}
	var sum chance
	for state, p := range cell.P {
		if p > 0 {
			sum = sum.or(s.at(state), p)
		}
	}
	return sum
}

// ofLength is the density of a logarithm of a length that somebody has measured.
func ofLength(l diagnosis.Length, said float64) chance {
	right, wrong := (1-slip)*measuredDensity(l, said), 0.0
	for _, factor := range slips {
		wrong += slip / float64(len(slips)) * measuredDensity(l, said-math.Log(factor))
	}
	return chance{right, wrong, right + wrong}
}

// measuredDensity is that of a length with the error of measuring: of those between the extremes, and of those that are drawn
// beyond them and stand at them.
func measuredDensity(l diagnosis.Length, y float64) float64 {
	low, high := math.Log(l.Usual[0]), math.Log(l.Usual[1])
	least, most := math.Log(l.Min), math.Log(l.Max)
	middle, deviation := (low+high)/2, max((high-low)/(2*fromFifth), 1e-6)
	both := math.Hypot(deviation, measuring)
	m := (middle*measuring*measuring + y*deviation*deviation) / (both * both)
	s := deviation * measuring / both
	between := below((most-m)/s) - below((least-m)/s)
	return normal(y, middle, both)*between + below((least-middle)/deviation)*normal(y, least, measuring) +
		below((middle-most)/deviation)*normal(y, most, measuring)
}

func normal(x, mean, deviation float64) float64 {
	z := (x - mean) / deviation
	return math.Exp(-z*z/2) / (deviation * math.Sqrt(2*math.Pi))
}

// below is the standard normal distribution function.
func below(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

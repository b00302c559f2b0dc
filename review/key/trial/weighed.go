package trial

import (
	"math"

	"revidit/review/diagnosis"
)

// leastSeen is the least probability of a reading: whatever the tables say, a pen slips. Assumed, no source.
const leastSeen = 1e-6

// Weighed is the share of made-up specimens that a person names rightly who, instead of going through a key, looks at every
// character that can be seen and weighs all of them by Bayes' rule with what the specimens are drawn from: the weights of families
// and forms, their states, and how each is misread. Characters that depend on each other are discounted as the tables say, which
// is not quite how they are drawn; but for that no key can do better with the same eyes.
func (c Course) Weighed(person Person) (right, standardError float64, err error) {
	if c.Specimens < 1 {
		return 0, 0, ErrNothing
	}
	w := newWorld(c)
	if len(w.families) == 0 {
		return 0, 0, ErrNothing
	}
	named := 0
	for i := range c.Specimens {
		s := w.specimen(i)
		if w.mostProbable(&s, person) == s.family {
			named++
		}
	}
	n := float64(c.Specimens)
	right = float64(named) / n
	return right, math.Sqrt(right * (1 - right) / n), nil
}

// mostProbable is the family that fits best what a person sees of a specimen.
func (w *world) mostProbable(s *specimen, person Person) int {
	seen := make([][]float64, len(w.tables.Characters)) // by character and state that is there; nil where nothing is seen, or a length
	readings := make([]reading, len(seen))
	for c := range seen {
		readings[c] = w.read(s, c, person)
		if k := &w.tables.Characters[c]; readings[c].ok && k.Kind != diagnosis.KindLength {
			seen[c] = w.readAs(c, k.State(readings[c].State), person)
		}
	}
	best, at := math.Inf(-1), 0
	for f := range w.families {
		sum := 0.0
		for g := range w.families[f].Forms {
			form := &w.families[f].Forms[g]
			sum += form.Weight * math.Exp(w.fits(form, readings, seen))
		}
		if p := math.Log(w.weights[f]) + math.Log(sum); p > best {
			best, at = p, f
		}
	}
	return at
}

// readAs is, by the state that is there, how probable it is that a person reads a certain one.
func (w *world) readAs(c, read int, person Person) []float64 {
	k := &w.tables.Characters[c]
	p := make([]float64, len(k.States))
	for there := range p {
		well, all := 1.0, 0.0
		if len(k.States) > 1 {
			well = rightly(k, there, person)
		}
		if there == read {
			p[there] = well
			continue
		}
		for _, x := range w.mistakes[c][there] {
			all += x
		}
		if all > 0 {
			p[there] = (1 - well) * w.mistakes[c][there][read] / all
		}
	}
	return p
}

// fits is the natural logarithm of how probable what is seen is in a form. What the form has no cell for says nothing.
func (w *world) fits(form *diagnosis.Form, readings []reading, seen [][]float64) float64 {
	total := 0.0
	for c, r := range readings {
		cell := form.Cells[w.tables.Characters[c].ID]
		if !r.ok || cell == nil {
			continue
		}
		p := leastSeen
		if seen[c] == nil {
			p = max(p, lengthDensity(cell.Length, r.MM))
		} else {
			shown := 0.0
			for state, there := range cell.P {
				shown += there * seen[c][state]
			}
			p = max(p, shown)
		}
		weight := 1.0
		if g := w.group[c]; g >= 0 {
			weight = w.tables.Dependent[g].Exponent
		}
		total += weight * math.Log(p)
	}
	return total
}

// lengthDensity is how densely lengths of a cell, measured, lie at one, in natural logarithms of millimetres.
func lengthDensity(l diagnosis.Length, mm float64) float64 {
	mean, sd := (math.Log(l.Usual[0])+math.Log(l.Usual[1]))/2, (math.Log(l.Usual[1])-math.Log(l.Usual[0]))/2/fifth
	sd = math.Hypot(sd, measuring)
	z := (math.Log(mm) - mean) / sd
	return math.Exp(-z*z/2) / sd
}

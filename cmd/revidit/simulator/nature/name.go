package nature

import "math/rand/v2"

// How people come to a name: by what they see and by acquaintance. The share of the first characters that they read
// as they truly are makes nameBySeeing of the probability of the right name, acquaintance the rest.
const (
	nameBySeeing         = 0.6
	memberAcquaintance   = 0.25
	reviewerAcquaintance = 0.38
	// deceived is what is left of that probability where the specimen looks like another family.
	deceived = 0.35
	// admits is the probability that a reviewer sees that a specimen belongs to none of the families.
	admits = 0.35
)

// Name is the family that a reviewer gives a specimen, or NoListedFamily. Whoever confirms everything agrees.
func (w *World) Name(specimen, person int) string {
	if w.ConfirmsAll && person == members {
		return w.Specimens[specimen].Proposed
	}
	return w.name(specimen, person)
}

// PanelName is the family that a reviewer gives who is shown the photos alone, with no name to agree with.
func (w *World) PanelName(specimen, person int) string { return w.name(specimen, person) }

func (w *World) name(specimen, person int) string {
	s := &w.Specimens[specimen]
	d := w.dice(namingOf, specimen, person)
	f := &w.families[s.family]
	right := w.namesRightly(specimen, person)
	if f.name == NoListedFamily {
		if w.People[person].Reviewer && d.Float64() < admits {
			return NoListedFamily
		}
		if d.Float64() < right {
			return w.families[f.parent].name
		}
		return w.families[w.mistaken(d, f.parent)].name
	}
	if s.deceptive {
		right *= deceived
	}
	if d.Float64() < right {
		return f.name
	}
	if s.deceptive {
		return w.families[s.deceives].name
	}
	return w.families[w.mistaken(d, s.family)].name
}

func (w *World) namesRightly(specimen, person int) float64 {
	s := &w.Specimens[specimen]
	seen := 0.0
	for _, c := range s.First {
		if k := &w.Tables.Characters[c]; len(k.States) == 0 || w.read(specimen, person, c).state == s.truth[c].state {
			seen++
		}
	}
	p := &w.People[person]
	acquaintance := memberAcquaintance
	if p.Reviewer {
		acquaintance = reviewerAcquaintance
	}
	return min(max(nameBySeeing*seen/float64(len(s.First))+acquaintance+0.05*p.names, 0.02), 0.98)
}

// mistaken is a listed family for which another is taken: one of those that are easily confused, a relative, or any.
func (w *World) mistaken(d *rand.Rand, f int) int {
	listed := w.Tables.Families
	own := w.families[f].parent
	candidates := w.families[f].similar
	if x := d.Float64(); x > 0.65 || len(candidates) == 0 {
		candidates = nil
		for i := range listed {
			if i != own && (x > 0.85 || listed[i].Superfamily == listed[own].Superfamily) {
				candidates = append(candidates, i)
			}
		}
	}
	if len(candidates) == 0 {
		return (own + 1 + d.IntN(len(listed)-1)) % len(listed)
	}
	return candidates[d.IntN(len(candidates))]
}

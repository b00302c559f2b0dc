package judgement

import (
	"fmt"
	"math"
	"slices"
)

// Difference is how far two assessments of one specimen part.
type Difference struct {
	// Gone and New are contradictions that only the former or only the latter has, in words.
	Gone []string
	New  []string
	// Noticeable: a contradiction came or went, or the confidence moved by more than changes no decision.
	Noticeable bool
}

// noticeable is the change of a confidence below which it is left out: a thousandth changes no decision.
const noticeable = 0.001

// DifferenceOf compares an assessment with a later one, or with one by other tables.
func DifferenceOf(before, after Assessment) Difference {
	d := Difference{Gone: missingFrom(before.Contradictions, after.Contradictions), New: missingFrom(after.Contradictions, before.Contradictions)}
	d.Noticeable = len(d.Gone)+len(d.New) > 0 || math.Abs(before.Confidence-after.Confidence) >= noticeable
	return d
}

// Leads is the most probable family, "" where nothing is ranked.
func (a Assessment) Leads() string {
	if len(a.Ranking) == 0 {
		return ""
	}
	return a.Ranking[0].Family
}

// Same says whether two contradictions are of one kind about one state of one character.
func (c Contradiction) Same(other Contradiction) bool {
	return c.Kind == other.Kind && c.Character == other.Character && c.State == other.State
}

// missingFrom are the contradictions of some that stand not among others, in words.
func missingFrom(some, others []Contradiction) []string {
	words := []string{}
	for _, c := range some {
		if !slices.ContainsFunc(others, c.Same) {
			words = append(words, fmt.Sprintf("%s: %s, %s", c.Kind, c.Character, c.State))
		}
	}
	return words
}

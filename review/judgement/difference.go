package judgement

import (
	"math"
	"slices"
)

// Difference is how far two assessments of one specimen part.
type Difference struct {
	// Gone and New are contradictions that only the former or only the latter has.
	Gone []Contradiction
	New  []Contradiction
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

// missingFrom are the contradictions of some that stand not among others.
func missingFrom(some, others []Contradiction) []Contradiction {
	var missing []Contradiction
	for _, c := range some {
		if !slices.ContainsFunc(others, c.Same) {
			missing = append(missing, c)
		}
	}
	return missing
}

// Repeats says whether another assessment is this one again: the name, how sure it is, the ranking as far as this one has it, the
// contradictions, and why, with all numbers equal to twelve digits. Words that only explain, and what to look at next, are left
// out.
func (a Assessment) Repeats(again Assessment) bool {
	return a.alike(again, toTwelve, toTwelve)
}

// Rounds says whether another assessment differs by no more than what rounding makes of other last digits: a unit of the
// probabilities, and of the weights.
func (a Assessment) Rounds(again Assessment) bool {
	within := func(unit float64) func(a, b float64) bool {
		return func(a, b float64) bool { return math.Abs(a-b) <= 1.5*unit }
	}
	return a.alike(again, within(1/PerUnit), within(0.001))
}

func (a Assessment) alike(again Assessment, chance, weight func(a, b float64) bool) bool {
	return a.Family == again.Family && a.Rival == again.Rival && chance(a.Confidence, again.Confidence) && weight(a.Odds, again.Odds) &&
		len(a.Ranking) <= len(again.Ranking) &&
		slices.EqualFunc(a.Ranking, again.Ranking[:len(a.Ranking)], func(a, b Ranked) bool { return a.Family == b.Family && chance(a.P, b.P) }) &&
		slices.EqualFunc(a.Contradictions, again.Contradictions, Contradiction.Same) &&
		slices.EqualFunc(a.Why, again.Why, func(a, b Weight) bool { return a.Character == b.Character && weight(a.Decibans, b.Decibans) })
}

// toTwelve says whether two numbers are equal to twelve digits.
func toTwelve(a, b float64) bool { return math.Abs(a-b) <= 1e-12*max(math.Abs(a), math.Abs(b)) }

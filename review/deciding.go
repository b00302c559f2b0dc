package review

import (
	"cmp"
	"math"
	"slices"

	"revidit/review/judgement"
)

// mostDeciding bounds how many characters decide, and leastDeciding is from how many decibans on one more of them does: a
// factor of two in the odds. Our own choice, no source.
const (
	mostDeciding  = 3
	leastDeciding = 3
)

// Deciding are the one to three of these characters that move the odds between the name and its best rival most, for it or
// against it, the first most: who knows the name looks at these. None where nothing is weighed.
func Deciding(a judgement.Assessment, characters []string) []string {
	var weights []judgement.Weight
	for _, w := range a.Why {
		if !w.OfSilence() && slices.Contains(characters, w.Character) {
			weights = append(weights, w)
		}
	}
	slices.SortStableFunc(weights, func(a, b judgement.Weight) int { return cmp.Compare(math.Abs(b.Decibans), math.Abs(a.Decibans)) })
	var deciding []string
	for _, w := range weights {
		if len(deciding) == mostDeciding || len(deciding) > 0 && math.Abs(w.Decibans) < leastDeciding {
			break
		}
		deciding = append(deciding, w.Character)
	}
	return deciding
}

package builder

import (
	"math"

	"revidit/review/diagnosis"
)

// weightOf is how common a family is taken for.
func (b *builder) weightOf(f *diagnosis.Family) float64 {
	if w := b.choice.Prior[f.Name]; w > 0 {
		return w
	}
	return math.Sqrt(float64(max(f.Species, 1)))
}

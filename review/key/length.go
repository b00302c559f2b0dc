package key

import (
	"math"

	"revidit/review/diagnosis"
)

// middle is the median of the log-normal distribution of a length.
func middle(l diagnosis.Length) float64 { return math.Sqrt(l.Usual[0] * l.Usual[1]) }

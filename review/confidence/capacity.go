package confidence

import "math"

// Capacity is what one look with the given accuracy tells of a question with two answers of which nothing is known, in
// bits: 1 − H(θ), the capacity of a binary symmetric channel (Shannon 1948, A Mathematical Theory of Communication,
// section 16). 0 for a coin, 1 for somebody who is never wrong or never right.
func Capacity(accuracy float64) float64 {
	p := unit(accuracy)
	return 1 + (entropyTerm(p)+entropyTerm(1-p))/math.Ln2
}

// entropyTerm is p · ln p, 0 at 0.
func entropyTerm(p float64) float64 {
	if p == 0 {
		return 0
	}
	return p * math.Log(p)
}

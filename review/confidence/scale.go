package confidence

import "math"

// Scale cuts lengths from Low to High millimetres into Bins bins of equal width in logarithms, so that a length is a
// character like any other and every sum stays exact.
type Scale struct {
	Low, High float64
	Bins      int
}

// Step is the width of one bin in natural logarithms.
func (s Scale) Step() float64 { return math.Log(s.High/s.Low) / float64(s.Bins) }

// Bin is the bin of a length; what is shorter or longer than the scale falls into its first or last.
func (s Scale) Bin(length float64) int {
	if !(length > s.Low) {
		return 0
	}
	return min(int(math.Log(length/s.Low)/s.Step()), s.Bins-1)
}

// z95 is the 95th percentile of the standard normal distribution.
const z95 = 1.6448536269514722

// LogNormal is the distribution over the bins of a log-normal length with the given 5th and 95th percentile, cut off
// outside shortest to longest. Where the cut leaves nothing, all is in the bin of the geometric mean of the percentiles.
func (s Scale) LogNormal(p5, p95, shortest, longest float64) []float64 {
	bins := make([]float64, s.Bins)
	sum := 0.0
	for b := range bins {
		from := max(s.Low*math.Exp(float64(b)*s.Step()), shortest)
		to := min(s.Low*math.Exp(float64(b+1)*s.Step()), longest)
		if from < to {
			bins[b] = LengthBelow(to, p5, p95) - LengthBelow(from, p5, p95)
			sum += bins[b]
		}
	}
	if !(sum > 0) {
		clear(bins)
		bins[s.Bin(math.Sqrt(p5*p95))] = 1
		return bins
	}
	for b := range bins {
		bins[b] /= sum
	}
	return bins
}

// narrowest is the least standard deviation of a length in natural logarithms: no species is of one length.
const narrowest = 0.02

// LengthBelow is the probability that a log-normal length with the given 5th and 95th percentile is below x.
func LengthBelow(x, p5, p95 float64) float64 {
	mean := math.Log(p5*p95) / 2
	deviation := max(math.Log(p95/p5)/(2*z95), narrowest)
	return 0.5 * math.Erfc(-(math.Log(x)-mean)/deviation/math.Sqrt2)
}

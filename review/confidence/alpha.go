package confidence

import (
	"fmt"
	"math"
	"slices"
)

// Metric says how far two values are apart, for KrippendorffAlpha.
type Metric int

const (
	// NominalMetric: different is different. δ² = 1.
	NominalMetric Metric = iota
	// OrdinalMetric: ranks. δ² = (Σ_{g from c to k} n_g − (n_c + n_k) / 2)², with the numbers n of values.
	OrdinalMetric
	// IntervalMetric: differences. δ² = (c − k)².
	IntervalMetric
	// RatioMetric: relative differences, for values from 0 on. δ² = ((c − k) / (c + k))², 0 between 0 and 0.
	RatioMetric
)

// KrippendorffAlpha is alpha of any number of raters, with missing ratings: units[u] are the values that unit u has got,
// in any order and number. For NominalMetric a value is the number of a category. Units with fewer than two values say
// nothing about agreement and are left out.
//
//	α = 1 − D_o / D_e
//	D_o = 1/n · Σ_u 1/(m_u − 1) · Σ_{i ≠ j in u} δ²(v_i, v_j),  D_e = 1/(n · (n − 1)) · Σ_c Σ_k n_c · n_k · δ²(c, k)
//
// with m_u values in unit u and n in all. It is not defined where all values are equal. Observed and Expected are D_o and
// D_e; no standard error is given. It takes raters as exchangeable.
//
// Source: Krippendorff K. 2011. Computing Krippendorff's alpha-reliability. University of Pennsylvania, sections A to D,
// which TestKrippendorff checks.
func KrippendorffAlpha(units [][]float64, metric Metric) (Agreement, error) {
	if metric < NominalMetric || metric > RatioMetric {
		return Agreement{}, fmt.Errorf("metric %d is not known", metric)
	}
	for u, values := range units {
		for i, v := range values {
			if !(math.Abs(v) <= largest) || metric == RatioMetric && v < 0 {
				return Agreement{}, fmt.Errorf("unit %d, value %d is %v, which the metric has no place for", u, i, v)
			}
		}
	}
	a := newAlpha(units, metric)
	return newAgreement(a.observed(), a.expected(), a.units, a.n), nil
}

// alpha holds the pairable values by their place among the distinct ones.
type alpha struct {
	metric   Metric
	units, n float64
	values   []float64 // distinct, ascending
	numbers  []float64 // of each value
	before   []float64 // values below each, and half of those equal: the mean rank
	pairable [][]int
}

func newAlpha(units [][]float64, metric Metric) *alpha {
	a := &alpha{metric: metric}
	for _, unit := range units {
		if len(unit) > 1 {
			a.units++
			a.values = append(a.values, unit...)
		}
	}
	a.n = float64(len(a.values))
	slices.Sort(a.values)
	a.values = slices.Compact(a.values)
	a.numbers, a.before = make([]float64, len(a.values)), make([]float64, len(a.values))
	for _, unit := range units {
		if len(unit) > 1 {
			a.pairable = append(a.pairable, a.places(unit))
		}
	}
	below := 0.0
	for c, n := range a.numbers {
		a.before[c] = below + n/2
		below += n
	}
	return a
}

func (a *alpha) places(unit []float64) []int {
	out := make([]int, len(unit))
	for i, v := range unit {
		out[i], _ = slices.BinarySearch(a.values, v)
		a.numbers[out[i]]++
	}
	return out
}

func (a *alpha) apart(c, k int) float64 {
	if c == k {
		return 0
	}
	x, y := a.values[c], a.values[k]
	d := 1.0
	switch a.metric {
	case OrdinalMetric:
		d = a.before[c] - a.before[k]
	case IntervalMetric:
		d = x - y
	case RatioMetric:
		d = (x - y) / (x + y)
	}
	return d * d
}

func (a *alpha) observed() float64 {
	total := 0.0
	for _, unit := range a.pairable {
		apart := 0.0
		for i, c := range unit {
			for _, k := range unit[:i] {
				apart += a.apart(c, k)
			}
		}
		total += 2 * apart / float64(len(unit)-1)
	}
	return total / max(a.n, 1)
}

func (a *alpha) expected() float64 {
	total := 0.0
	for c, n := range a.numbers {
		for k, m := range a.numbers[:c] {
			total += 2 * n * m * a.apart(c, k)
		}
	}
	return total / max(a.n*(a.n-1), 1)
}

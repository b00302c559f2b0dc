package confidence

import (
	"fmt"
	"math"
)

// AlphaWithError is KrippendorffAlpha with a standard error from leaving out one unit at a time:
//
//	√((U − 1) / U · Σ_u (α_(−u) − mean)²)
//
// over the U units with at least two values, taken as independent. It is 0, not known, where there are fewer than two such
// units or where alpha is not defined without one of them, and 0 as well where nobody disagrees. It is not made for
// OrdinalMetric, in which the distances themselves depend on all units.
//
// Source: Tukey J.W. 1958. Bias and confidence in not-quite large samples (abstract). Annals of Mathematical Statistics
// 29: 614 (from memory). TestAlphaWithError compares with alpha computed anew without each unit, and with its spread.
func AlphaWithError(units [][]float64, metric Metric) (Agreement, error) {
	out, err := KrippendorffAlpha(units, metric)
	if err != nil {
		return out, err
	}
	if metric == OrdinalMetric {
		return out, fmt.Errorf("ordinal distances depend on all units: there is no standard error for them here")
	}
	a := newAlpha(units, metric)
	if !out.OK || len(a.pairable) < 2 {
		return out, nil
	}
	out.StandardError = a.jackknife()
	return out, nil
}

func (a *alpha) jackknife() float64 {
	apart := make([]float64, len(a.pairable)) // share of each unit in n · D_o
	total := 0.0
	for u, unit := range a.pairable {
		for i, c := range unit {
			for _, k := range unit[:i] {
				apart[u] += 2 * a.apart(c, k) / float64(len(unit)-1)
			}
		}
		total += apart[u]
	}
	without, mean := make([]float64, len(a.pairable)), 0.0
	n := a.n
	for u, unit := range a.pairable {
		a.n = n - float64(len(unit))
		for _, c := range unit {
			a.numbers[c]--
		}
		expected := a.expected()
		for _, c := range unit {
			a.numbers[c]++
		}
		if expected <= 0 {
			return 0
		}
		without[u] = 1 - (total-apart[u])/a.n/expected
		mean += without[u] / float64(len(without))
	}
	squares := 0.0
	for _, v := range without {
		squares += (v - mean) * (v - mean)
	}
	u := float64(len(without))
	return math.Sqrt((u - 1) / u * squares)
}

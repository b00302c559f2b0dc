package confidence

import (
	"fmt"
	"maps"
	"math"
	"slices"
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
	if !out.OK || out.Observed == 0 {
		return out, nil
	}
	out.StandardError = newJackknife([]*alpha{newAlpha(units, metric)}).error(eachByItself(units))
	return out, nil
}

// StratifiedAlpha is Stratified of the alphas of several kinds of things, kinds[c][u] being the values of unit u of kind
// c, with a standard error from leaving out one cluster at a time: all units with the same number in clusters[c][u]. Units
// of one specimen, say, share its photos, and are no independent evidence. The error is as in AlphaWithError otherwise.
func StratifiedAlpha(kinds [][][]float64, clusters [][]int, metric Metric) (Agreement, error) {
	if metric == OrdinalMetric {
		return Agreement{}, fmt.Errorf("ordinal distances depend on all units: there is no standard error for them here")
	}
	if len(kinds) != len(clusters) {
		return Agreement{}, fmt.Errorf("%d kinds, clusters for %d", len(kinds), len(clusters))
	}
	var parts []Agreement
	var alphas []*alpha
	var pairable [][]int
	for c, units := range kinds {
		if len(units) != len(clusters[c]) {
			return Agreement{}, fmt.Errorf("kind %d: %d units, clusters for %d", c, len(units), len(clusters[c]))
		}
		part, err := KrippendorffAlpha(units, metric)
		if err != nil {
			return Agreement{}, fmt.Errorf("kind %d: %w", c, err)
		}
		parts, alphas = append(parts, part), append(alphas, newAlpha(units, metric))
		pairable = append(pairable, ofPairable(units, clusters[c]))
	}
	out := Stratified(parts)
	out.StandardError = 0
	if out.OK && out.Observed > 0 {
		out.StandardError = newJackknife(alphas).error(pairable)
	}
	return out, nil
}

// eachByItself makes every unit with at least two values a cluster.
func eachByItself(units [][]float64) [][]int {
	numbers := make([]int, len(units))
	for u := range numbers {
		numbers[u] = u
	}
	return [][]int{ofPairable(units, numbers)}
}

// ofPairable leaves the clusters of units with at least two values.
func ofPairable(units [][]float64, clusters []int) []int {
	var left []int
	for u, values := range units {
		if len(values) > 1 {
			left = append(left, clusters[u])
		}
	}
	return left
}

// jackknife leaves out units of one or several alphas.
type jackknife struct {
	alphas             []*alpha
	apart              [][]float64 // share of each unit in n · D_o
	observed, expected []float64   // n · D_o and n · D_e of each alpha
}

func newJackknife(alphas []*alpha) *jackknife {
	j := &jackknife{alphas: alphas, apart: make([][]float64, len(alphas)), observed: make([]float64, len(alphas)), expected: make([]float64, len(alphas))}
	for c, a := range alphas {
		for _, unit := range a.pairable {
			apart := 0.0
			for i, x := range unit {
				for _, y := range unit[:i] {
					apart += 2 * a.apart(x, y) / float64(len(unit)-1)
				}
			}
			j.apart[c] = append(j.apart[c], apart)
			j.observed[c] += apart
		}
		j.expected[c] = a.n * a.expected()
	}
	return j
}

// member is a unit of a cluster.
type member struct{ kind, unit int }

// error is the standard error over clusters; 0 where it is not known.
func (j *jackknife) error(clusters [][]int) float64 {
	members := map[int][]member{}
	for c, of := range clusters {
		for u, cluster := range of {
			members[cluster] = append(members[cluster], member{c, u})
		}
	}
	if len(members) < 2 {
		return 0
	}
	// In order, so that rounding does not differ from run to run.
	without, mean := make([]float64, 0, len(members)), 0.0
	for _, cluster := range slices.Sorted(maps.Keys(members)) {
		observed, expected := j.leaving(members[cluster])
		if expected <= 0 {
			return 0
		}
		without = append(without, 1-observed/expected)
		mean += without[len(without)-1] / float64(len(members))
	}
	squares, n := 0.0, float64(len(without))
	for _, v := range without {
		squares += (v - mean) * (v - mean)
	}
	return math.Sqrt((n - 1) / n * squares)
}

// leaving returns the sums of n · D_o and n · D_e without some units.
func (j *jackknife) leaving(units []member) (observed, expected float64) {
	observed, expected = sum(j.observed), sum(j.expected)
	for _, m := range units {
		a := j.alphas[m.kind]
		for _, value := range a.pairable[m.unit] {
			a.numbers[value]--
		}
		a.n -= float64(len(a.pairable[m.unit]))
		observed -= j.apart[m.kind][m.unit]
	}
	for i, m := range units {
		if i == 0 || units[i-1].kind != m.kind {
			expected += j.alphas[m.kind].n*j.alphas[m.kind].expected() - j.expected[m.kind]
		}
	}
	for _, m := range units {
		a := j.alphas[m.kind]
		for _, value := range a.pairable[m.unit] {
			a.numbers[value]++
		}
		a.n += float64(len(a.pairable[m.unit]))
	}
	return observed, expected
}

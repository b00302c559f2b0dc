package confidence

import (
	"fmt"
	"math"
)

// Agreement is a coefficient of agreement beyond chance: Value = 1 − Observed / Expected. 1 is perfect agreement, 0 what
// chance would give, below 0 less than that. No number in it is NaN or infinite.
type Agreement struct {
	Value float64
	// OK is false where the coefficient is not defined; Value is then 0 and Warnings say why.
	OK bool
	// Observed and Expected are disagreement: the share of pairs of ratings that differ (with weights, their mean weight)
	// as observed and as expected by chance.
	Observed, Expected float64
	Cases              float64 // items that entered
	Ratings            float64 // ratings that entered
	// StandardError is that of Value, for an interval; ErrorByChance is that of Value if all agreement were chance, and Z is
	// Value / ErrorByChance. 0 where they are not known: each function says which it gives.
	StandardError, ErrorByChance, Z float64
	Warnings                        []Warning
}

// newAgreement divides where that is defined.
func newAgreement(observed, expected, cases, ratings float64) Agreement {
	a := Agreement{Observed: observed, Expected: expected, Cases: cases, Ratings: ratings}
	if ratings == 0 {
		a.Warnings = []Warning{NoCases}
		return a
	}
	if cases < fewCases {
		a.Warnings = append(a.Warnings, FewCases)
	}
	if expected <= 0 {
		a.Observed, a.Expected = 0, 0
		a.Warnings = append(a.Warnings, OneCategory)
		return a
	}
	a.OK, a.Value = true, 1-observed/expected
	if observed <= 0 {
		a.Warnings = append(a.Warnings, NobodyDisagreed)
	}
	return a
}

// withErrors adds the standard errors from their variances.
func (a Agreement) withErrors(variance, varianceByChance float64) Agreement {
	a.StandardError = math.Sqrt(max(variance, 0))
	if varianceByChance > 0 {
		a.ErrorByChance = math.Sqrt(varianceByChance)
		a.Z = a.Value / a.ErrorByChance
	}
	return a
}

// CohenKappa is the kappa of two raters from the table of counts of their ratings (first rater by row):
//
//	κ = (p_o − p_e) / (1 − p_e),  p_o = Σ_i p(i, i),  p_e = Σ_i p(i, ·) · p(·, i)
//
// It assumes that the items are independent, and that each rater would by chance use the categories as often as they
// did. It is not defined where both used one and the same category only. All standard errors are given.
//
// Sources: Cohen J. 1960. A coefficient of agreement for nominal scales. Educational and Psychological Measurement 20:
// 37-46; for the errors see WeightedKappa.
func CohenKappa(table [][]float64) (Agreement, error) {
	weights := make([][]float64, len(table))
	for i := range weights {
		weights[i] = make([]float64, len(table))
		for j := range weights[i] {
			if i != j {
				weights[i][j] = 1
			}
		}
	}
	return WeightedKappa(table, weights)
}

// WeightedKappa is the kappa of two raters with weights of disagreement v(i, j) ≥ 0, 0 on the diagonal:
//
//	κ_w = 1 − Σ v(i, j) · p(i, j) / Σ v(i, j) · p(i, ·) · p(·, j)
//
// The weights need not be symmetric, and only their proportions matter. LinearWeights suit ordered states.
//
// Sources: Cohen J. 1968. Weighted kappa. Psychological Bulletin 70(4): 213-220, table 1; errors: Fleiss J.L., Cohen J.,
// Everitt B.S. 1969. Large sample standard errors of kappa and weighted kappa. Psychological Bulletin 72: 323-327.
// TestCohen checks both.
func WeightedKappa(table, weights [][]float64) (Agreement, error) {
	if err := checkSquare("table", table, len(table)); err != nil {
		return Agreement{}, err
	}
	if err := checkSquare("weights", weights, len(table)); err != nil {
		return Agreement{}, err
	}
	for i := range weights {
		if weights[i][i] != 0 {
			return Agreement{}, fmt.Errorf("weights: row %d weighs agreement with %v, not 0", i, weights[i][i])
		}
	}
	return newPairTable(table, weights).kappa(), nil
}

func checkSquare(name string, rows [][]float64, n int) error {
	if len(rows) != n {
		return fmt.Errorf("%s: %d rows for %d categories", name, len(rows), n)
	}
	for i, row := range rows {
		if len(row) != n {
			return fmt.Errorf("%s: row %d has %d columns for %d categories", name, i, len(row), n)
		}
		for j, x := range row {
			if !(x >= 0 && x <= largest) {
				return fmt.Errorf("%s: row %d, column %d is %v, not from 0 to %v", name, i, j, x, largest)
			}
		}
	}
	return nil
}

// largest is what a value or weight may be, so that no square of it is infinite.
const largest = 1e100

// LinearWeights are |i − j|, for categories in order.
func LinearWeights(categories int) [][]float64 {
	return orderedWeights(categories, func(d float64) float64 { return math.Abs(d) })
}

// QuadraticWeights are (i − j)², for categories in order.
func QuadraticWeights(categories int) [][]float64 {
	return orderedWeights(categories, func(d float64) float64 { return d * d })
}

func orderedWeights(n int, weight func(float64) float64) [][]float64 {
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, n)
		for j := range out[i] {
			out[i][j] = weight(float64(i - j))
		}
	}
	return out
}

// PairTable counts the ratings of two raters who rated the same items, as CohenKappa takes them.
func PairTable(a, b []int, categories int) ([][]float64, error) {
	if len(a) != len(b) {
		return nil, fmt.Errorf("%d ratings of the first rater, %d of the second", len(a), len(b))
	}
	table := make([][]float64, categories)
	for i := range table {
		table[i] = make([]float64, categories)
	}
	for i := range a {
		if !within(a[i], categories) || !within(b[i], categories) {
			return nil, fmt.Errorf("item %d: categories %d and %d of %d", i, a[i], b[i], categories)
		}
		table[a[i]][b[i]]++
	}
	return table, nil
}

// pairTable is a table of shares with its margins.
type pairTable struct {
	n              float64
	p, weights     [][]float64
	first, second  []float64
	weightOfFirst  []float64 // mean weight of category i of the first rater over the second's margin
	weightOfSecond []float64
}

func newPairTable(table, weights [][]float64) *pairTable {
	k := len(table)
	t := &pairTable{weights: weights, first: make([]float64, k), second: make([]float64, k),
		weightOfFirst: make([]float64, k), weightOfSecond: make([]float64, k)}
	for _, row := range table {
		t.n += sum(row)
	}
	if t.n == 0 {
		return t
	}
	for i, row := range table {
		t.p = append(t.p, make([]float64, k))
		for j, count := range row {
			t.p[i][j] = count / t.n
			t.first[i] += count / t.n
			t.second[j] += count / t.n
		}
	}
	for i := range k {
		for j := range k {
			t.weightOfFirst[i] += t.second[j] * weights[i][j]
			t.weightOfSecond[j] += t.first[i] * weights[i][j]
		}
	}
	return t
}

// kappa writes the variances of Fleiss, Cohen and Everitt with weights of disagreement v instead of agreement w = 1 − v.
func (t *pairTable) kappa() Agreement {
	observed, expected := 0.0, 0.0
	for i := range t.p {
		for j, p := range t.p[i] {
			observed += t.weights[i][j] * p
			expected += t.weights[i][j] * t.first[i] * t.second[j]
		}
	}
	a := newAgreement(observed, expected, t.n, 2*t.n)
	if !a.OK {
		return a
	}
	ratio := 1 - a.Value
	variance, byChance := 0.0, 0.0
	for i := range t.p {
		for j, p := range t.p[i] {
			v, margins := t.weights[i][j], t.weightOfFirst[i]+t.weightOfSecond[j]
			variance += p * (v - ratio*margins) * (v - ratio*margins)
			byChance += t.first[i] * t.second[j] * (v - margins) * (v - margins)
		}
	}
	centre := observed - 2*ratio*expected
	scale := t.n * expected * expected
	return a.withErrors((variance-centre*centre)/scale, (byChance-expected*expected)/scale)
}

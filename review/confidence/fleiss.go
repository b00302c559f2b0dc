package confidence

import "fmt"

// FleissKappa is the kappa of many raters from the counts of each item: counts[item][category], every item with the same
// number n of ratings, at least 2. The raters need not be the same people for each item.
//
//	κ = (P_o − P_e) / (1 − P_e)
//	P_o = mean over items of Σ_j n_ij · (n_ij − 1) / (n · (n − 1)),  P_e = Σ_j p_j²
//
// It is not defined where all ratings are of one category. ErrorByChance and Z are given, StandardError is not known. For
// unequal numbers of ratings use KrippendorffAlpha.
//
// Sources: Fleiss J.L. 1971. Measuring nominal scale agreement among many raters. Psychological Bulletin 76(5): 378-382;
// the error: Fleiss J.L., Nee J.C.M., Landis J.R. 1979. Large sample variance of kappa in the case of different sets of
// raters. Psychological Bulletin 86: 974-977. TestFleiss checks both.
func FleissKappa(counts [][]int) (Agreement, error) {
	f, err := newFleiss(counts)
	if err != nil {
		return Agreement{}, err
	}
	observed, expected := 0.0, 0.0
	for j := range f.shares {
		observed += f.disagreed[j]
		expected += f.shares[j] * (1 - f.shares[j])
	}
	return f.agreement(observed, expected, f.varianceByChance(expected)), nil
}

// FleissByCategory is the kappa of each category against all others; their mean, weighted with p · (1 − p), is
// FleissKappa. A category that is never or always used has none.
func FleissByCategory(counts [][]int) ([]Agreement, error) {
	f, err := newFleiss(counts)
	if err != nil {
		return nil, err
	}
	out := make([]Agreement, len(f.shares))
	for j, p := range f.shares {
		// The error of one category does not depend on its share.
		out[j] = f.agreement(f.disagreed[j], p*(1-p), 2/(f.items*f.raters*(f.raters-1)))
	}
	return out, nil
}

type fleiss struct {
	items, raters float64
	shares        []float64 // p_j
	disagreed     []float64 // share of pairs of ratings with the first in j and the second not
}

func newFleiss(counts [][]int) (*fleiss, error) {
	if len(counts) == 0 {
		return &fleiss{}, nil
	}
	k := len(counts[0])
	f := &fleiss{items: float64(len(counts)), shares: make([]float64, k), disagreed: make([]float64, k)}
	for i, row := range counts {
		if len(row) != k {
			return nil, fmt.Errorf("item %d: %d categories, %d in the first item", i, len(row), k)
		}
		n := 0.0
		for j, count := range row {
			if count < 0 {
				return nil, fmt.Errorf("item %d, category %d: %d ratings", i, j, count)
			}
			n += float64(count)
		}
		if i == 0 {
			f.raters = n
		}
		if n != f.raters || n < 2 {
			return nil, fmt.Errorf("item %d: %v ratings, %v of the first item; all must have the same number, at least 2", i, n, f.raters)
		}
		for j, count := range row {
			f.shares[j] += float64(count) / (f.items * n)
			f.disagreed[j] += float64(count) * (n - float64(count)) / (f.items * n * (n - 1))
		}
	}
	return f, nil
}

func (f *fleiss) varianceByChance(expected float64) float64 {
	if expected <= 0 {
		return 0
	}
	skew := 0.0
	for _, p := range f.shares {
		skew += p * (1 - p) * (1 - 2*p)
	}
	return 2 / (f.items * f.raters * (f.raters - 1)) * (expected*expected - skew) / (expected * expected)
}

func (f *fleiss) agreement(observed, expected, varianceByChance float64) Agreement {
	// The shares of a single category sum to 1 but for rounding.
	if expected < 1e-14 {
		expected = 0
	}
	a := newAgreement(observed, expected, f.items, f.items*f.raters)
	if !a.OK {
		return a
	}
	return a.withErrors(0, varianceByChance)
}

package confidence

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func kappaFile(t *testing.T, name string, v any) {
	t.Helper()
	var file map[string]json.RawMessage
	readJSON(t, "agreement/kappa.json", &file)
	require.Contains(t, file, name)
	require.NoError(t, json.Unmarshal(file[name], v))
}

// TestCohen: Cohen (1968), table 1, with the weights of the article and with unequal ones.
func TestCohen(t *testing.T) {
	var file struct {
		N           float64
		Proportions [][]float64
		Weights     [][]float64 `json:"disagreement_weights"`
		Unequal     [][]float64 `json:"asymmetric_weights"`
		Published   struct {
			Kappa    float64
			Weighted float64 `json:"kappa_weighted"`
		}
		PublishedUnequal float64 `json:"published_asymmetric"`
		Recomputed       struct {
			Kappa    float64
			Weighted float64 `json:"kappa_weighted"`
		}
		RecomputedUnequal float64 `json:"recomputed_asymmetric"`
	}
	kappaFile(t, "cohen_1968_table1", &file)
	for _, row := range file.Proportions {
		for j := range row {
			row[j] *= file.N
		}
	}
	plain, err := CohenKappa(file.Proportions)
	require.NoError(t, err)
	require.InDelta(t, file.Published.Kappa, plain.Value, 6e-4)
	require.InDelta(t, file.Recomputed.Kappa, plain.Value, 1e-12)
	require.True(t, plain.OK)
	require.InDelta(t, file.N, plain.Cases, 1e-9)
	require.Empty(t, plain.Warnings)

	weighted, err := WeightedKappa(file.Proportions, file.Weights)
	require.NoError(t, err)
	require.InDelta(t, file.Published.Weighted, weighted.Value, 6e-4)
	require.InDelta(t, file.Recomputed.Weighted, weighted.Value, 1e-12)

	unequal, err := WeightedKappa(file.Proportions, file.Unequal)
	require.NoError(t, err)
	require.InDelta(t, file.PublishedUnequal, unequal.Value, 6e-4)
	require.InDelta(t, file.RecomputedUnequal, unequal.Value, 1e-12)
}

// TestTwoRaters: a statistical package's print-out on nineteen cases, as quoted in the test suite of statsmodels, with
// both standard errors and z.
func TestTwoRaters(t *testing.T) {
	var file struct {
		Counts    [][]float64
		Published struct {
			Kappa         float64
			Linear        float64 `json:"kappa_linear_weights"`
			StandardError float64 `json:"ase"`
			ByChance      float64 `json:"ase_under_H0"`
			Z             float64
		}
		Recomputed struct {
			Kappa  float64
			Linear float64 `json:"kappa_linear_weights"`
		}
	}
	kappaFile(t, "two_raters_19_cases", &file)
	k, err := CohenKappa(file.Counts)
	require.NoError(t, err)
	require.InDelta(t, file.Published.Kappa, k.Value, 5e-5)
	require.InDelta(t, file.Recomputed.Kappa, k.Value, 1e-12)
	require.InDelta(t, file.Published.StandardError, k.StandardError, 5e-5)
	require.InDelta(t, file.Published.ByChance, k.ErrorByChance, 5e-5)
	require.InDelta(t, file.Published.Z, k.Z, 5e-5)
	require.Equal(t, []Warning{FewCases}, k.Warnings)
	require.InDelta(t, 19, k.Cases, 0)
	k, err = WeightedKappa(file.Counts, LinearWeights(3))
	require.NoError(t, err)
	require.InDelta(t, file.Published.Linear, k.Value, 5e-5)
	require.InDelta(t, file.Recomputed.Linear, k.Value, 1e-12)
}

// TestSmallKappas: fifty cases of two categories, and six cases of a library's documentation.
func TestSmallKappas(t *testing.T) {
	var two struct {
		Counts    [][]float64
		Published struct{ Kappa float64 }
	}
	kappaFile(t, "two_by_two_50_cases", &two)
	k, err := CohenKappa(two.Counts)
	require.NoError(t, err)
	require.InDelta(t, two.Published.Kappa, k.Value, 1e-12)

	var six struct {
		First      []int `json:"rater1"`
		Second     []int `json:"rater2"`
		Published  struct{ Kappa float64 }
		Recomputed struct{ Kappa float64 }
	}
	kappaFile(t, "sklearn_six_cases", &six)
	table, err := PairTable(six.First, six.Second, 3)
	require.NoError(t, err)
	k, err = CohenKappa(table)
	require.NoError(t, err)
	require.InDelta(t, six.Published.Kappa, k.Value, 6e-4)
	require.InDelta(t, six.Recomputed.Kappa, k.Value, 1e-12)
}

// TestFleiss: Fleiss (1971), thirty patients and six raters, with a library's z; and ten subjects with fourteen raters.
func TestFleiss(t *testing.T) {
	type expected struct {
		Published struct {
			Kappa    float64
			Totals   []float64 `json:"category_totals"`
			Observed float64   `json:"P_observed"`
			Expected float64   `json:"P_expected"`
		}
		Library    struct{ Kappa, Z float64 } `json:"library_value"`
		Recomputed struct {
			Kappa      float64
			Observed   float64   `json:"P_observed"`
			Expected   float64   `json:"P_expected"`
			Shares     []float64 `json:"category_shares"`
			ByCategory []float64 `json:"category_kappa"`
			Error      float64   `json:"se_fleiss_nee_landis_1979"`
			Z          float64
		}
	}
	check := func(name string, counts [][]int) (expected, Agreement) {
		var file expected
		kappaFile(t, name, &file)
		k, err := FleissKappa(counts)
		require.NoError(t, err)
		require.InDelta(t, file.Published.Kappa, k.Value, 5e-4)
		require.InDelta(t, file.Published.Observed, 1-k.Observed, 5e-4)
		require.InDelta(t, file.Published.Expected, 1-k.Expected, 5e-4)
		require.InDelta(t, file.Recomputed.Kappa, k.Value, 1e-12)
		require.InDelta(t, file.Recomputed.Observed, 1-k.Observed, 1e-12)
		require.InDelta(t, file.Recomputed.Expected, 1-k.Expected, 1e-12)
		return file, k
	}
	counts, totals := make([][]int, 30), make([]float64, 5)
	for i, row := range readNumbers(t, "agreement/fleiss_1971_psychiatric.csv") {
		counts[i] = make([]int, 5)
		for _, category := range row[1:] {
			counts[i][int(category)-1]++
			totals[int(category)-1]++
		}
	}
	file, k := check("fleiss_1971_psychiatric", counts)
	require.Equal(t, file.Published.Totals, totals)
	require.InDelta(t, file.Library.Kappa, k.Value, 1e-6)
	require.InDelta(t, file.Library.Z, k.Z, 1e-5, "seven digits are printed")
	require.InDelta(t, file.Recomputed.Z, k.Z, 1e-9)
	require.InDelta(t, file.Recomputed.Error, k.ErrorByChance, 1e-12)
	require.Len(t, file.Recomputed.ByCategory, 5)
	categories, err := FleissByCategory(counts)
	require.NoError(t, err)
	for j, want := range file.Recomputed.ByCategory {
		require.InDelta(t, want, categories[j].Value, 1e-12)
	}

	counts = nil
	for _, row := range readNumbers(t, "agreement/fleiss_10x5_fourteen_raters.csv") {
		counts = append(counts, nil)
		for _, n := range row[1:] {
			counts[len(counts)-1] = append(counts[len(counts)-1], int(n))
		}
	}
	_, k = check("fleiss_10x5_fourteen_raters", counts)
	require.Equal(t, []Warning{FewCases}, k.Warnings)
}

var metrics = map[string]Metric{"nominal": NominalMetric, "ordinal": OrdinalMetric, "interval": IntervalMetric, "ratio": RatioMetric}

// TestKrippendorff: Krippendorff (2011), sections A to D (interval from memory), and a reprinted example of three coders.
func TestKrippendorff(t *testing.T) {
	var file map[string]json.RawMessage
	readJSON(t, "agreement/krippendorff.json", &file)
	for name, checks := range map[string]int{"binary_two_observers": 1, "nominal_two_observers": 1, "four_observers_missing": 4, "three_coders_fifteen_units": 3} {
		var example struct {
			Data                  [][]any
			Published, Recomputed map[string]float64
			Coincidences          struct {
				Pairable float64 `json:"n_pairable"`
			}
		}
		require.NoError(t, json.Unmarshal(file[name], &example))
		require.Len(t, example.Recomputed, checks)
		units := make([][]float64, len(example.Data[0]))
		for _, observer := range example.Data {
			for u, value := range observer {
				switch v := value.(type) {
				case float64:
					units[u] = append(units[u], v)
				case string:
					units[u] = append(units[u], float64(v[0]))
				}
			}
		}
		for metric, want := range example.Recomputed {
			a, err := KrippendorffAlpha(units, metrics[metric])
			require.NoError(t, err)
			require.True(t, a.OK)
			require.InDelta(t, want, a.Value, 1e-12, "%s %s", name, metric)
			require.InDelta(t, example.Coincidences.Pairable, a.Ratings, 1e-9)
		}
		for metric, want := range example.Published {
			a, err := KrippendorffAlpha(units, metrics[metric])
			require.NoError(t, err)
			require.InDelta(t, want, a.Value, 5e-4, "%s %s", name, metric)
		}
	}
}

// TestUndefinedAgreement: all in one category is 0/0, never 1 and never NaN; nothing at all is no number either.
func TestUndefinedAgreement(t *testing.T) {
	one := map[string]func() (Agreement, error){
		"cohen":  func() (Agreement, error) { return CohenKappa([][]float64{{40, 0}, {0, 0}}) },
		"fleiss": func() (Agreement, error) { return FleissKappa([][]int{{0, 3}, {0, 3}, {0, 3}}) },
		"alpha": func() (Agreement, error) {
			return KrippendorffAlpha([][]float64{{2, 2}, {2, 2, 2}, {2}}, IntervalMetric)
		},
	}
	for name, f := range one {
		a, err := f()
		require.NoError(t, err)
		require.False(t, a.OK, name)
		require.Zero(t, a.Value, name)
		require.Contains(t, a.Warnings, OneCategory, name)
	}
	none := map[string]func() (Agreement, error){
		"cohen":  func() (Agreement, error) { return CohenKappa([][]float64{{0, 0}, {0, 0}}) },
		"fleiss": func() (Agreement, error) { return FleissKappa(nil) },
		"alpha":  func() (Agreement, error) { return KrippendorffAlpha([][]float64{{1}, {}}, NominalMetric) },
	}
	for name, f := range none {
		a, err := f()
		require.NoError(t, err)
		require.Equal(t, Agreement{Warnings: []Warning{NoCases}}, a, name)
	}
}

func TestAgreementRefuses(t *testing.T) {
	for message, f := range map[string]func() error{
		"table: row 0 has 1 columns":   func() error { _, err := CohenKappa([][]float64{{1}, {1, 2}}); return err },
		"table: row 0, column 1":       func() error { _, err := CohenKappa([][]float64{{1, math.NaN()}, {1, 2}}); return err },
		"weights: 1 rows":              func() error { _, err := WeightedKappa([][]float64{{1, 1}, {1, 2}}, LinearWeights(1)); return err },
		"weighs agreement":             func() error { _, err := WeightedKappa([][]float64{{1}}, [][]float64{{1}}); return err },
		"1 ratings of the first rater": func() error { _, err := PairTable([]int{0}, nil, 2); return err },
		"item 0: categories 0 and 2":   func() error { _, err := PairTable([]int{0}, []int{2}, 2); return err },
		"item 1: 2 ratings":            func() error { _, err := FleissKappa([][]int{{1, 2}, {1, 1}}); return err },
		"item 0, category 1":           func() error { _, err := FleissKappa([][]int{{3, -1}}); return err },
		"item 1: 1 categories":         func() error { _, err := FleissByCategory([][]int{{1, 2}, {3}}); return err },
		"unit 0, value 1 is -1":        func() error { _, err := KrippendorffAlpha([][]float64{{1, -1}}, RatioMetric); return err },
		"unit 0, value 0 is 1e+200":    func() error { _, err := KrippendorffAlpha([][]float64{{1e200, 1}}, IntervalMetric); return err },
		"metric 9":                     func() error { _, err := KrippendorffAlpha(nil, 9); return err },
	} {
		require.ErrorContains(t, f(), message)
	}
}

// TestPerfectAgreement: at most 1, and 1 where nobody disagreed.
func TestPerfectAgreement(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		categories := rapid.IntRange(2, 5).Draw(t, "categories")
		ratings := append([]int{0, 1}, rapid.SliceOf(rapid.IntRange(0, categories-1)).Draw(t, "ratings")...)
		table, err := PairTable(ratings, ratings, categories)
		require.NoError(t, err)
		counts, units := make([][]int, len(ratings)), make([][]float64, len(ratings))
		for i, c := range ratings {
			counts[i] = make([]int, categories)
			counts[i][c] = 3
			units[i] = []float64{float64(c), float64(c), float64(c)}
		}
		cohen, err := CohenKappa(table)
		require.NoError(t, err)
		weighted, err := WeightedKappa(table, QuadraticWeights(categories))
		require.NoError(t, err)
		fleiss, err := FleissKappa(counts)
		require.NoError(t, err)
		all := []Agreement{cohen, weighted, fleiss}
		for _, metric := range metrics {
			alpha, err := KrippendorffAlpha(units, metric)
			require.NoError(t, err)
			all = append(all, alpha)
		}
		for _, a := range all {
			require.True(t, a.OK)
			require.InDelta(t, 1, a.Value, 1e-12)
			require.Contains(t, a.Warnings, NobodyDisagreed)
		}
	})
}

// TestAgreementOrderAndNames: the order of items and raters, and the names of nominal categories, change nothing.
func TestAgreementOrderAndNames(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const categories = 4
		n := rapid.IntRange(2, 30).Draw(t, "items")
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 5))
		names, order := random.Perm(categories), random.Perm(n)
		a, b, c, d := make([]int, n), make([]int, n), make([]int, n), make([]int, n)
		units, others := make([][]float64, n), make([][]float64, n)
		for i, to := range order {
			a[i], b[i] = random.IntN(categories), random.IntN(categories)
			c[to], d[to] = names[b[i]], names[a[i]]
			units[i] = []float64{float64(a[i]), float64(b[i])}
			others[to] = []float64{float64(c[to]), float64(d[to])}
		}
		kappa := func(x, y []int) Agreement {
			table, err := PairTable(x, y, categories)
			require.NoError(t, err)
			k, err := CohenKappa(table)
			require.NoError(t, err)
			return k
		}
		one, other := kappa(a, b), kappa(c, d)
		require.Equal(t, one.OK, other.OK)
		require.InDelta(t, one.Value, other.Value, 1e-12)
		require.InDelta(t, one.StandardError, other.StandardError, 1e-6, "the root of a variance near 0 is rounded to 1e-8")
		require.LessOrEqual(t, one.Value, 1.0)
		first, err := KrippendorffAlpha(units, NominalMetric)
		require.NoError(t, err)
		second, err := KrippendorffAlpha(others, NominalMetric)
		require.NoError(t, err)
		require.InDelta(t, first.Value, second.Value, 1e-12)

		counts := make([][]int, n)
		for i := range counts {
			counts[i] = make([]int, categories)
			counts[i][a[i]]++
			counts[i][b[i]]++
		}
		fleiss, err := FleissKappa(counts)
		require.NoError(t, err)
		require.Equal(t, fleiss.OK, first.OK)
		if fleiss.OK {
			// With all ratings present, alpha is Fleiss' kappa but for the expectation without replacement.
			require.InDelta(t, 1-(1-fleiss.Value)*(first.Ratings-1)/first.Ratings, first.Value, 1e-12)
		}
	})
}

package confidence

import (
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func readNumbers(t *testing.T, name string) [][]float64 {
	t.Helper()
	var out [][]float64
	for _, row := range readCSV(t, name)[1:] {
		var numbers []float64
		for _, cell := range row {
			x, err := strconv.ParseFloat(cell, 64)
			require.NoError(t, err)
			numbers = append(numbers, x)
		}
		out = append(out, numbers)
	}
	return out
}

type dawidSkeneFile struct {
	Published struct {
		Shares    []float64   `json:"table2_class_marginals"`
		Rates     [][]float64 `json:"table3_observer1_error_rates"`
		Posterior [][]float64 `json:"table4_patients_1_to_6"`
	}
	Recomputed struct {
		LogLikelihood float64                `json:"log_likelihood"`
		Shares        []float64              `json:"class_marginals"`
		Rounded       map[string][][]float64 `json:"error_rates_rounded_2dp"`
		MostProbable  map[string]int         `json:"map_class_counts"`
	}
	Trace []struct {
		LogLikelihood float64   `json:"log_likelihood"`
		Shares        []float64 `json:"class_marginals"`
	} `json:"trace_first_40_iterations"`
	LocalMaxima struct {
		LowestClass struct {
			LogLikelihood float64   `json:"log_likelihood"`
			Shares        []float64 `json:"class_marginals"`
		} `json:"start_majority_vote_ties_to_lowest_class"`
	} `json:"local_maxima"`
}

// dawidSkeneTable reads the ratings: the first observer rated three times.
func dawidSkeneTable(t *testing.T) RatingTable {
	t.Helper()
	table := RatingTable{Items: 45, Observers: 5, Classes: 4}
	for i, row := range readNumbers(t, "reliability/ratings.csv") {
		for column, class := range row[1:] {
			table.Ratings = append(table.Ratings, Rating{Item: i, Observer: max(column-2, 0), Class: int(class) - 1})
		}
	}
	require.Len(t, table.Ratings, 315)
	return table
}

func dawidSkeneExpected(t *testing.T) dawidSkeneFile {
	t.Helper()
	var file dawidSkeneFile
	readJSON(t, "reliability/expected.json", &file)
	require.Len(t, file.Trace, 40)
	return file
}

func hundredth(x float64) float64 { return math.Round(x*100) / 100 }

// TestDawidSkene: Dawid and Skene (1979), tables 2, 3 (observer 1) and 4 (patients 1 to 6), equal at two decimals.
func TestDawidSkene(t *testing.T) {
	file := dawidSkeneExpected(t)
	fit, err := DawidSkene(dawidSkeneTable(t), DawidSkeneOptions{})
	require.NoError(t, err)
	for j, want := range file.Published.Shares {
		require.Equal(t, want, hundredth(fit.Shares[j]), "table 2, class %d", j+1)
	}
	require.Len(t, file.Published.Rates, 4)
	for j, row := range file.Published.Rates {
		for l, want := range row {
			require.Equal(t, want, hundredth(fit.Rates[0][j][l]), "table 3, true %d, said %d", j+1, l+1)
		}
	}
	require.Len(t, file.Published.Posterior, 6)
	for i, row := range file.Published.Posterior {
		for j, want := range row {
			require.Equal(t, want, hundredth(fit.Posterior[i][j]), "table 4, patient %d, class %d", i+1, j+1)
		}
	}
}

// TestDawidSkeneWholeSolution: the solution recomputed from the same ratings, to 1e-6.
func TestDawidSkeneWholeSolution(t *testing.T) {
	file := dawidSkeneExpected(t)
	fit, err := DawidSkene(dawidSkeneTable(t), DawidSkeneOptions{})
	require.NoError(t, err)
	require.True(t, fit.Converged)
	require.Empty(t, fit.Warnings)
	require.InDelta(t, file.Recomputed.LogLikelihood, fit.LogLikelihood[len(fit.LogLikelihood)-1], 1e-9)
	require.InDeltaSlice(t, file.Recomputed.Shares, fit.Shares, 1e-6)
	for _, row := range readNumbers(t, "reliability/error_rates.csv") {
		require.InDeltaSlice(t, row[2:], fit.Rates[int(row[0])-1][int(row[1])-1], 1e-6, row)
	}
	counts := map[string]int{}
	for i, row := range readNumbers(t, "reliability/posteriors.csv") {
		require.InDeltaSlice(t, row[1:5], fit.Posterior[i], 1e-6, row)
		counts[strconv.Itoa(int(row[5]))]++
	}
	require.Equal(t, file.Recomputed.MostProbable, counts)
	require.Len(t, file.Recomputed.Rounded, 5)
	for k := range 5 {
		for j, row := range file.Recomputed.Rounded["observer"+strconv.Itoa(k+1)] {
			require.InDeltaSlice(t, row, fit.Rates[k][j], 0.005+1e-9)
		}
	}
}

// TestDawidSkeneTrace: log-likelihood and class shares of the first forty iterations. The default stops after about
// thirty, when the log-likelihood changes by less than 1e-12; here it may not.
func TestDawidSkeneTrace(t *testing.T) {
	file := dawidSkeneExpected(t)
	table := dawidSkeneTable(t)
	for n := 1; n <= len(file.Trace); n++ {
		fit, err := DawidSkene(table, DawidSkeneOptions{MaxIterations: n, Tolerance: math.SmallestNonzeroFloat64})
		require.NoError(t, err)
		want := file.Trace[len(fit.LogLikelihood)-1]
		require.InDelta(t, want.LogLikelihood, fit.LogLikelihood[len(fit.LogLikelihood)-1], 1e-8, n)
		require.InDeltaSlice(t, want.Shares, fit.Shares, 1e-8, n)
		require.True(t, fit.Converged || len(fit.LogLikelihood) == n)
	}
}

// TestDawidSkeneStartDecides: from the vote of the majority the same ratings lead to another, lower maximum.
func TestDawidSkeneStartDecides(t *testing.T) {
	file := dawidSkeneExpected(t)
	table := dawidSkeneTable(t)
	votes := make([][]float64, table.Items)
	for i := range votes {
		votes[i] = make([]float64, table.Classes)
	}
	for _, r := range table.Ratings {
		votes[r.Item][r.Class]++
	}
	for _, row := range votes {
		best := 0
		for j, n := range row {
			if n > row[best] {
				best = j
			}
		}
		clear(row)
		row[best] = 1
	}
	fit, err := DawidSkene(table, DawidSkeneOptions{Start: votes})
	require.NoError(t, err)
	require.InDelta(t, file.LocalMaxima.LowestClass.LogLikelihood, fit.LogLikelihood[len(fit.LogLikelihood)-1], 1e-9)
	require.InDeltaSlice(t, file.LocalMaxima.LowestClass.Shares, fit.Shares, 1e-6)
}

func drawRatings(t *rapid.T) RatingTable {
	table := RatingTable{Items: rapid.IntRange(1, 12).Draw(t, "items"), Observers: rapid.IntRange(1, 4).Draw(t, "observers"),
		Classes: rapid.IntRange(1, 4).Draw(t, "classes")}
	for range rapid.IntRange(0, 60).Draw(t, "ratings") {
		table.Ratings = append(table.Ratings, Rating{Item: rapid.IntRange(0, table.Items-1).Draw(t, "item"),
			Observer: rapid.IntRange(0, table.Observers-1).Draw(t, "observer"), Class: rapid.IntRange(0, table.Classes-1).Draw(t, "class")})
	}
	return table
}

func TestDawidSkeneNeverFalls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fit, err := DawidSkene(drawRatings(t), DawidSkeneOptions{MaxIterations: 40})
		require.NoError(t, err)
		for n := 1; n < len(fit.LogLikelihood); n++ {
			require.GreaterOrEqual(t, fit.LogLikelihood[n], fit.LogLikelihood[n-1]-1e-9)
		}
		for _, row := range append(append([][]float64{fit.Shares}, fit.Posterior...), fit.Rates[0]...) {
			require.InDelta(t, 1, sum(row), 1e-9)
		}
	})
}

// TestDawidSkeneOrderAndNames: the order of the ratings changes nothing, and renamed classes are renamed in the result.
func TestDawidSkeneOrderAndNames(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := drawRatings(t)
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		names := random.Perm(table.Classes)
		other := table
		other.Ratings = make([]Rating, len(table.Ratings))
		for to, from := range random.Perm(len(table.Ratings)) {
			r := table.Ratings[from]
			other.Ratings[to] = Rating{Item: r.Item, Observer: r.Observer, Class: names[r.Class]}
		}
		// Few iterations: where two maxima are equally near, rounding decides in the long run.
		options := DawidSkeneOptions{MaxIterations: 5}
		a, err := DawidSkene(table, options)
		require.NoError(t, err)
		b, err := DawidSkene(other, options)
		require.NoError(t, err)
		for j, p := range a.Shares {
			require.InDelta(t, p, b.Shares[names[j]], 1e-9)
		}
		for i := range a.Posterior {
			for j, p := range a.Posterior[i] {
				require.InDelta(t, p, b.Posterior[i][names[j]], 1e-7)
			}
		}
	})
}

func TestDawidSkeneSmoothing(t *testing.T) {
	table := dawidSkeneTable(t)
	fit, err := DawidSkene(table, DawidSkeneOptions{Smoothing: 0.5})
	require.NoError(t, err)
	require.True(t, fit.Converged)
	for _, matrix := range fit.Rates {
		for _, row := range matrix {
			for _, p := range row {
				require.Greater(t, p, 0.0)
			}
		}
	}
}

func TestDawidSkeneWarnsAndRefuses(t *testing.T) {
	fit, err := DawidSkene(RatingTable{Items: 2, Observers: 2, Classes: 2, Ratings: []Rating{{0, 0, 0}, {1, 0, 1}}}, DawidSkeneOptions{})
	require.NoError(t, err)
	require.Contains(t, fit.Warnings, UnusedClass, "the second observer rated nothing")
	require.Equal(t, []float64{0.5, 0.5}, fit.Rates[1][0])
	fit, err = DawidSkene(dawidSkeneTable(t), DawidSkeneOptions{MaxIterations: 3})
	require.NoError(t, err)
	require.Equal(t, []Warning{NotConverged}, fit.Warnings)

	one := RatingTable{Items: 1, Observers: 1, Classes: 2}
	for name, refused := range map[string]struct {
		table   RatingTable
		options DawidSkeneOptions
		message string
	}{
		"nothing":         {RatingTable{}, DawidSkeneOptions{}, "there must be one of each"},
		"class":           {RatingTable{1, 1, 2, []Rating{{0, 0, 2}}}, DawidSkeneOptions{}, "rating 0"},
		"smoothing":       {one, DawidSkeneOptions{Smoothing: math.NaN()}, "smoothing NaN"},
		"rows of start":   {one, DawidSkeneOptions{Start: [][]float64{{1, 0}, {1, 0}}}, "2 rows for 1 items"},
		"values of start": {one, DawidSkeneOptions{Start: [][]float64{{1, 1}}}, "row 0"},
	} {
		_, err := DawidSkene(refused.table, refused.options)
		require.ErrorContains(t, err, refused.message, name)
	}
}

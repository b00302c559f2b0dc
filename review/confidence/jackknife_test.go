package confidence

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestAlphaWithError: the value is that of Krippendorff (2011), sections C and D, and the error that of alpha computed
// anew without each unit.
func TestAlphaWithError(t *testing.T) {
	units, nominal := krippendorffData(t, "four_observers_missing")
	for _, metric := range []Metric{NominalMetric, IntervalMetric, RatioMetric} {
		got, err := AlphaWithError(units, metric)
		require.NoError(t, err)
		if metric == NominalMetric {
			require.InDelta(t, nominal, got.Value, 5e-4)
		}
		require.InDelta(t, slowJackknife(t, units, metric), got.StandardError, 1e-12)
		require.Positive(t, got.StandardError)
	}
}

func slowJackknife(t *testing.T, units [][]float64, metric Metric) float64 {
	t.Helper()
	var without []float64
	for u := range units {
		if len(units[u]) < 2 {
			continue
		}
		a, err := KrippendorffAlpha(slices.Concat(units[:u], units[u+1:]), metric)
		require.NoError(t, err)
		without = append(without, a.Value)
	}
	n := float64(len(without))
	mean, squares := sum(without)/n, 0.0
	for _, v := range without {
		squares += (v - mean) * (v - mean)
	}
	return math.Sqrt(squares * (n - 1) / n)
}

// TestAlphaErrorIsItsSpread: over many made-up clubs the error is about as large as alpha scatters.
func TestAlphaErrorIsItsSpread(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 13))
	const clubs = 400
	var values, errors []float64
	for range clubs {
		units := make([][]float64, 80)
		for u := range units {
			truth := random.IntN(3)
			for range 2 + random.IntN(2) {
				seen := truth
				if random.Float64() < 0.2 {
					seen = random.IntN(3)
				}
				units[u] = append(units[u], float64(seen))
			}
		}
		a, err := AlphaWithError(units, NominalMetric)
		require.NoError(t, err)
		values, errors = append(values, a.Value), append(errors, a.StandardError)
	}
	mean, squares := sum(values)/clubs, 0.0
	for _, v := range values {
		squares += (v - mean) * (v - mean)
	}
	spread := math.Sqrt(squares / (clubs - 1))
	// The spread of 400 values is known to about 3.5 % (1 / √(2 · 400)); three of those, and a jackknife is a little too large.
	require.InEpsilon(t, spread, sum(errors)/clubs, 0.13)
}

func TestAlphaErrorThatIsNotKnown(t *testing.T) {
	for name, units := range map[string][][]float64{
		"one unit": {{1, 2}}, "one that differs": {{1, 1}, {1, 1}, {1, 2}}, "one category": {{1, 1}, {1, 1}}, "nobody disagrees": {{1, 1}, {2, 2}, {1, 1}, {2, 2}},
		"nothing": nil,
	} {
		a, err := AlphaWithError(units, NominalMetric)
		require.NoError(t, err, name)
		require.Zero(t, a.StandardError, name)
	}
	agreed, err := StratifiedAlpha([][][]float64{{{1, 1}, {2, 2}, {3, 3}}, {{1, 1}, {2, 2}}}, [][]int{{1, 2, 3}, {2, 3}}, NominalMetric)
	require.NoError(t, err)
	require.InDelta(t, 1, agreed.Value, 0)
	require.Zero(t, agreed.StandardError)
	_, err = AlphaWithError([][]float64{{1, 2}}, OrdinalMetric)
	require.ErrorContains(t, err, "ordinal")
	_, err = AlphaWithError([][]float64{{1, math.NaN()}}, NominalMetric)
	require.Error(t, err)
}

// TestStratifiedAlphaByClusters: the error is that of Stratified computed anew without each cluster.
func TestStratifiedAlphaByClusters(t *testing.T) {
	random := rand.New(rand.NewPCG(17, 19))
	kinds, clusters := make([][][]float64, 3), make([][]int, 3)
	for c := range kinds {
		for specimen := range 25 {
			if random.Float64() < 0.3 {
				continue
			}
			truth := random.IntN(2 + c)
			var values []float64
			for range 1 + random.IntN(3) {
				seen := truth
				if random.Float64() < 0.25 {
					seen = random.IntN(2 + c)
				}
				values = append(values, float64(seen))
			}
			kinds[c], clusters[c] = append(kinds[c], values), append(clusters[c], specimen)
		}
	}
	got, err := StratifiedAlpha(kinds, clusters, NominalMetric)
	require.NoError(t, err)
	whole := slowStratified(t, kinds, clusters, -1)
	require.InDelta(t, whole.Value, got.Value, 1e-12)
	var without []float64
	for specimen := range 25 {
		if left := slowStratified(t, kinds, clusters, specimen); left.Ratings < whole.Ratings {
			without = append(without, left.Value)
		}
	}
	n := float64(len(without))
	mean, squares := sum(without)/n, 0.0
	for _, v := range without {
		squares += (v - mean) * (v - mean)
	}
	require.InDelta(t, math.Sqrt(squares*(n-1)/n), got.StandardError, 1e-12)
}

func slowStratified(t *testing.T, kinds [][][]float64, clusters [][]int, leaving int) Agreement {
	t.Helper()
	var parts []Agreement
	for c, units := range kinds {
		var left [][]float64
		for u, values := range units {
			if clusters[c][u] != leaving {
				left = append(left, values)
			}
		}
		a, err := KrippendorffAlpha(left, NominalMetric)
		require.NoError(t, err)
		parts = append(parts, a)
	}
	return Stratified(parts)
}

func TestStratifiedAlphaRefuses(t *testing.T) {
	_, err := StratifiedAlpha([][][]float64{{{1, 2}}}, nil, NominalMetric)
	require.ErrorContains(t, err, "clusters for 0")
	_, err = StratifiedAlpha([][][]float64{{{1, 2}}}, [][]int{{}}, NominalMetric)
	require.ErrorContains(t, err, "kind 0")
	_, err = StratifiedAlpha(nil, nil, OrdinalMetric)
	require.ErrorContains(t, err, "ordinal")
	none, err := StratifiedAlpha(nil, nil, NominalMetric)
	require.NoError(t, err)
	require.Equal(t, []Warning{NoCases}, none.Warnings)
}

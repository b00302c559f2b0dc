package confidence

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

type calibrationFile struct {
	Tampere struct {
		Cases map[string]struct {
			Forecasts, Events     float64
			Published, Recomputed map[string]float64
		}
	} `json:"precipitation_tampere_2003"`
	Brier struct {
		Y          []int
		P          []float64
		Recomputed float64
	} `json:"sklearn_brier_doctest"`
	LogLoss struct {
		Y          []string
		P          [][]float64 `json:"p_ham_spam"`
		Recomputed float64
	} `json:"sklearn_log_loss_doctest"`
	Algebra struct {
		Y          []float64
		Prediction []float64
		Published  struct{ Miscalibration, Discrimination, Uncertainty, Score float64 }
	} `json:"decomposition_doctest"`
	Wilks struct {
		Forecast   []float64
		Observed   []float64 `json:"observed_frequency"`
		Weight     []float64
		Published  struct{ Climatology float64 }
		Recomputed struct{ Climatology, Brier, Reliability, Resolution, Uncertainty float64 }
	} `json:"wilks_pop_table"`
}

func calibrationExpected(t *testing.T) calibrationFile {
	t.Helper()
	var file calibrationFile
	readJSON(t, "calibration/expected.json", &file)
	return file
}

// tampere is the table of forecasts by lead time and event, from its second column on.
func tampere(t *testing.T) map[string][][]float64 {
	t.Helper()
	out := map[string][][]float64{}
	for _, row := range readCSV(t, "calibration/precipitation_tampere_2003.csv")[1:] {
		var numbers []float64
		for _, cell := range row[2:] {
			x, err := strconv.ParseFloat(cell, 64)
			require.NoError(t, err)
			numbers = append(numbers, x)
		}
		out[row[0]+"_"+row[1]] = append(out[row[0]+"_"+row[1]], numbers)
	}
	return out
}

// TestTampere: WWRP/CAWCR forecast verification pages, probability of precipitation at Tampere in 2003: twenty printed
// values, and the same values recomputed. The bins are the printed forecasts.
func TestTampere(t *testing.T) {
	file := calibrationExpected(t).Tampere
	table := tampere(t)
	require.Len(t, file.Cases, 4)
	values := 0
	for name, want := range file.Cases {
		var bins []Bin
		events := 0.0
		for _, row := range table[name] {
			bins = append(bins, NewBin(row[0], row[1], row[2]))
			events += row[2]
		}
		d := Decompose(bins)
		require.InDelta(t, want.Forecasts, d.Cases, 0)
		require.InDelta(t, want.Events, events, 0)
		require.True(t, d.SkillOK)
		require.Empty(t, d.Warnings)
		require.InDelta(t, d.Brier, d.Reliability-d.Resolution+d.Uncertainty, 1e-12)
		got := map[string]float64{"brier": d.Brier, "reliability": d.Reliability, "resolution": d.Resolution,
			"uncertainty": d.Uncertainty, "skill": d.Skill}
		for part, value := range got {
			require.InDelta(t, want.Published[part], value, 5e-4, "%s %s", name, part)
			require.InDelta(t, want.Recomputed[part], value, 1e-12, "%s %s", name, part)
			values++
		}
		requireSameFromCases(t, d, table[name])
	}
	require.Equal(t, 20, values)
}

// requireSameFromCases goes the way from single cases, shuffled, with forecasts that are sums as the original ones are:
// 0.1 + 0.2 is not 0.3 and still belongs to it.
func requireSameFromCases(t *testing.T, want Decomposition, rows [][]float64) {
	t.Helper()
	var p []float64
	var happened []bool
	for _, row := range rows {
		for i := range int(row[1]) {
			part := row[0] / 3
			p, happened = append(p, (row[0]-part)+float64(i%2)*part+float64(1-i%2)*part), append(happened, i < int(row[2]))
		}
	}
	rand.New(rand.NewPCG(1, 2)).Shuffle(len(p), func(i, j int) {
		p[i], p[j] = p[j], p[i]
		happened[i], happened[j] = happened[j], happened[i]
	})
	for i := range p {
		p[i] = min(p[i], 1)
	}
	bins, err := DistinctBins(p, happened)
	require.NoError(t, err)
	require.Len(t, bins, len(rows))
	d := Decompose(bins)
	require.InDelta(t, want.Brier, d.Brier, 1e-12)
	require.InDelta(t, want.Reliability, d.Reliability, 1e-12)
	require.InDelta(t, want.Resolution, d.Resolution, 1e-12)
	require.InDelta(t, 0, d.Within, 1e-12)
	score, err := Brier(p, happened)
	require.NoError(t, err)
	require.InDelta(t, want.Brier, score.Value, 1e-12)
}

// TestNearlySameForecasts: sums in floating point.
func TestNearlySameForecasts(t *testing.T) {
	tenth, fifth := 0.1, 0.2
	sum := tenth + fifth
	require.NotEqual(t, 0.3, sum)
	bins, err := DistinctBins([]float64{0.3, sum, 0.30001}, []bool{true, false, true})
	require.NoError(t, err)
	require.Len(t, bins, 2)
	require.InDelta(t, 2, bins[0].Cases, 0)
}

// TestScoresOfScikitLearn: the documentation of scikit-learn 1.2.1: Brier score and log loss. The two-class Brier score is
// half of that over classes.
func TestScoresOfScikitLearn(t *testing.T) {
	file := calibrationExpected(t)
	happened, both := make([]bool, len(file.Brier.Y)), make([][]float64, len(file.Brier.Y))
	for i, y := range file.Brier.Y {
		happened[i], both[i] = y == 1, []float64{1 - file.Brier.P[i], file.Brier.P[i]}
	}
	brier, err := Brier(file.Brier.P, happened)
	require.NoError(t, err)
	require.InDelta(t, 0.0375, brier.Value, 1e-12)
	require.InDelta(t, file.Brier.Recomputed, brier.Value, 1e-12)
	require.Equal(t, []Warning{FewCases}, brier.Warnings)
	classes, err := BrierOfClasses(both, file.Brier.Y)
	require.NoError(t, err)
	require.InDelta(t, 2*brier.Value, classes.Value, 1e-12)

	truth := make([]int, len(file.LogLoss.Y))
	for i, name := range file.LogLoss.Y {
		truth[i] = slices.Index([]string{"ham", "spam"}, name)
	}
	log, err := LogScore(file.LogLoss.P, truth)
	require.NoError(t, err)
	require.InDelta(t, 0.21616, log.Value, 1e-5)
	require.InDelta(t, file.LogLoss.Recomputed, log.Value, 1e-12)
}

// TestDecompositionAlgebra: the documentation of model-diagnostics, decompose(). Its predictions are no probabilities;
// the algebra holds all the same.
func TestDecompositionAlgebra(t *testing.T) {
	file := calibrationExpected(t).Algebra
	cases, events := map[float64]float64{}, map[float64]float64{}
	for i, p := range file.Prediction {
		cases[p]++
		events[p] += file.Y[i]
	}
	var bins []Bin
	for p := range cases {
		bins = append(bins, NewBin(p, cases[p], events[p]))
	}
	require.Len(t, bins, 3)
	d := Decompose(bins)
	require.InDelta(t, file.Published.Miscalibration, d.Reliability, 1e-12)
	require.InDelta(t, file.Published.Discrimination, d.Resolution, 1e-12)
	require.InDelta(t, file.Published.Uncertainty, d.Uncertainty, 1e-12)
	require.InDelta(t, file.Published.Score, d.Brier, 1e-12)
}

// TestWilks: Wilks, Statistical Methods in the Atmospheric Sciences, first edition, table 7.3, by shares of its cases. The
// book's table is the input; the parts were recomputed from it, none is printed.
func TestWilks(t *testing.T) {
	file := calibrationExpected(t).Wilks
	var bins []Bin
	overall := 0.0
	for i, p := range file.Forecast {
		cases := 1e4 * file.Weight[i]
		bins = append(bins, NewBin(p, cases, cases*file.Observed[i]))
		overall += file.Weight[i] * file.Observed[i]
	}
	d := Decompose(bins)
	require.InDelta(t, file.Published.Climatology, overall, 5e-4+1e-6)
	require.InDelta(t, file.Recomputed.Climatology, overall, 1e-12)
	require.InDelta(t, 0.0734610, d.Brier, 1e-7)
	require.InDelta(t, file.Recomputed.Brier, d.Brier, 1e-7)
	require.InDelta(t, file.Recomputed.Reliability, d.Reliability, 1e-12)
	require.InDelta(t, file.Recomputed.Resolution, d.Resolution, 1e-12)
	require.InDelta(t, file.Recomputed.Uncertainty, d.Uncertainty, 1e-12)
}

// TestChiSquare: Manning, Raghavan and Schütze (2008), example 13.3: for a forecast of two values, the resolution is the
// chi-square of the table of counts over its total, times the uncertainty.
func TestChiSquare(t *testing.T) {
	var file struct {
		Manning struct {
			Counts     struct{ N11, N10, N01, N00, N float64 }
			Published  float64 `json:"published_chi_square"`
			Recomputed float64 `json:"recomputed_chi_square"`
		} `json:"manning_2008_example_13_3"`
	}
	readJSON(t, "information_gain.json", &file)
	n := file.Manning.Counts
	d := Decompose([]Bin{NewBin(1, n.N11+n.N10, n.N11), NewBin(0, n.N01+n.N00, n.N01)})
	require.InDelta(t, n.N, d.Cases, 0)
	require.InDelta(t, file.Manning.Published, d.Cases*d.Resolution/d.Uncertainty, 1)
	require.InDelta(t, file.Manning.Recomputed, d.Cases*d.Resolution/d.Uncertainty, 1e-6)
}

// drawForecasts are forecasts, some of them equal, with outcomes.
func drawForecasts(t *rapid.T) ([]float64, []bool) {
	// Steps of a thousandth: random floats can be nearer than what counts as one forecast.
	steps := rapid.SliceOfN(rapid.IntRange(0, 1000), 1, 60).Draw(t, "p")
	p := make([]float64, len(steps))
	for i, step := range steps {
		p[i] = float64(step) / 1000
	}
	happened := rapid.SliceOfN(rapid.Bool(), len(p), len(p)).Draw(t, "happened")
	return p, happened
}

// TestDecompositionIdentities: Brier = reliability − resolution + uncertainty for the bins of distinct forecasts, with
// the part within bins for any others; and each kind of bins has all the cases.
func TestDecompositionIdentities(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, happened := drawForecasts(t)
		brier, err := Brier(p, happened)
		require.NoError(t, err)
		distinct, err := DistinctBins(p, happened)
		require.NoError(t, err)
		mass, err := EqualMassBins(p, happened, 15)
		require.NoError(t, err)
		width, err := EqualWidthBins(p, happened, 10)
		require.NoError(t, err)
		require.LessOrEqual(t, len(mass), 15)
		require.LessOrEqual(t, len(width), 10)
		for _, bins := range [][]Bin{distinct, mass, width} {
			d := Decompose(bins)
			require.InDelta(t, float64(len(p)), d.Cases, 0)
			require.InDelta(t, brier.Value, d.Brier, 1e-12)
			require.LessOrEqual(t, d.Resolution, d.Uncertainty+1e-12)
			require.InDelta(t, withinBins(p, happened, bins), d.Within, 1e-12)
			for i, b := range bins {
				require.True(t, b.Low <= b.Observed+1e-12 && b.Observed <= b.High+1e-12 && b.Least <= b.Forecast+1e-12 && b.Forecast <= b.Most+1e-12, "%+v", b)
				require.True(t, i == 0 || bins[i-1].Most < b.Least)
			}
		}
		d := Decompose(distinct)
		require.InDelta(t, d.Brier, d.Reliability-d.Resolution+d.Uncertainty, 1e-12)
	})
}

// withinBins is the variance of the forecasts within bins less twice their covariance with the outcomes, case by case.
func withinBins(p []float64, happened []bool, bins []Bin) float64 {
	total := 0.0
	for i, v := range p {
		at := slices.IndexFunc(bins, func(b Bin) bool { return b.Least <= v && v <= b.Most })
		y := 0.0
		if happened[i] {
			y = 1
		}
		d := v - bins[at].Forecast
		total += d*d - 2*d*(y-bins[at].Observed)
	}
	return total / float64(len(p))
}

// TestEqualMass: as equal as can be where no forecasts are equal, and equal ones together.
func TestEqualMass(t *testing.T) {
	var p []float64
	for i := range 45 {
		p = append(p, float64(i)/45)
	}
	bins, err := EqualMassBins(p, make([]bool, 45), CalibrationBins)
	require.NoError(t, err)
	require.Len(t, bins, 15)
	for _, b := range bins {
		require.InDelta(t, 3, b.Cases, 0)
		require.Equal(t, []Warning{FewCases}, b.Warnings)
	}
	bins, err = EqualMassBins(slices.Repeat([]float64{0.5}, 45), make([]bool, 45), CalibrationBins)
	require.NoError(t, err)
	require.Len(t, bins, 1)
}

// TestWilson: 10 of 10, with the limit from the formula: 1 / (1 + z²/n).
func TestWilson(t *testing.T) {
	b := NewBin(0.9, 10, 10)
	require.InDelta(t, 1/(1+1.959963984540054*1.959963984540054/10), b.Low, 1e-12)
	require.InDelta(t, 1, b.High, 1e-12)
	require.Empty(t, b.Warnings)
	b = NewBin(0.9, 0, 0)
	require.Equal(t, []float64{0, 0, 1}, []float64{b.Observed, b.Low, b.High})
}

func drawn(random *rand.Rand, n int, off float64) ([]float64, []bool) {
	p, happened := make([]float64, n), make([]bool, n)
	for i := range p {
		p[i] = 0.1 + 0.8*random.Float64()
		happened[i] = random.Float64() < p[i]+off
	}
	return p, happened
}

// TestCalibrationError: forecasts that are all too low by a tenth have an error of a tenth, perfect ones one near Chance;
// the interval holds the true error in at least nine repetitions of ten, with few cases and with many.
func TestCalibrationError(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	p, happened := drawn(random, 10000, 0.1)
	e, err := ExpectedCalibrationError(p, happened, 1)
	require.NoError(t, err)
	require.Len(t, e.Bins, CalibrationBins)
	require.Empty(t, e.Warnings)
	require.InDelta(t, 0.1, e.Value, 0.01)
	require.True(t, e.Low < 0.1 && 0.1 < e.High)
	require.Greater(t, e.Low, e.Chance, "a tenth is no chance in ten thousand cases")

	const repetitions = 30
	for _, cases := range []int{100, 300} {
		value, chance := 0.0, 0.0
		for _, off := range []float64{0, 0.05, 0.1} {
			held := 0
			for seed := range uint64(repetitions) {
				p, happened := drawn(random, cases, off)
				e, err := ExpectedCalibrationError(p, happened, seed)
				require.NoError(t, err)
				if e.Low <= off && off <= e.High {
					held++
				}
				if off == 0 {
					value += e.Value / repetitions
					chance += e.Chance / repetitions
				}
			}
			require.GreaterOrEqual(t, held, repetitions*9/10, "%d cases, off by %v", cases, off)
		}
		require.InEpsilon(t, chance, value, 0.1)
	}
}

// TestCalibrationErrorByHand: two bins of one forecast each.
func TestCalibrationErrorByHand(t *testing.T) {
	p := append(slices.Repeat([]float64{0.2}, 20), slices.Repeat([]float64{0.9}, 60)...)
	happened := make([]bool, 80)
	for i := range 50 {
		happened[20+i] = true // 0 of 20, 50 of 60
	}
	e, err := ExpectedCalibrationError(p, happened, 1)
	require.NoError(t, err)
	require.Len(t, e.Bins, 2)
	require.InDelta(t, (20*0.2+60*(0.9-50.0/60))/80, e.Value, 1e-12)
	again, err := ExpectedCalibrationError(p, happened, 1)
	require.NoError(t, err)
	require.Equal(t, e, again)
	slices.Reverse(p)
	slices.Reverse(happened)
	again, err = ExpectedCalibrationError(p, happened, 1)
	require.NoError(t, err)
	require.InDelta(t, e.Value, again.Value, 1e-12)
	require.InDelta(t, e.Low, again.Low, 1e-12)
	require.InDelta(t, e.High, again.High, 1e-12)
}

func TestCalibrationWarns(t *testing.T) {
	none, err := ExpectedCalibrationError(nil, nil, 1)
	require.NoError(t, err)
	require.Equal(t, CalibrationError{Score: Score{Warnings: []Warning{NoCases}}}, none)
	few, err := ExpectedCalibrationError([]float64{0, 1, 0.5}, []bool{true, true, false}, 1)
	require.NoError(t, err)
	require.Equal(t, []Warning{FewCases}, few.Warnings)
	require.False(t, math.IsNaN(few.Value+few.Low+few.High+few.Chance+few.StandardError))

	require.Equal(t, Decomposition{Warnings: []Warning{NoCases}}, Decompose(nil))
	same := Decompose([]Bin{NewBin(0.2, 50, 50), NewBin(0.9, 50, 50)})
	require.Equal(t, []Warning{OneOutcome}, same.Warnings)
	require.True(t, same.OK)
	require.False(t, same.SkillOK)
	require.Zero(t, same.Skill)

	score, err := LogScore([][]float64{{1, 0}}, []int{1})
	require.NoError(t, err)
	require.Equal(t, []Warning{FewCases, ForecastZero}, score.Warnings)
	require.InDelta(t, 12*math.Ln10, score.Value, 1e-9)
	score, err = Brier(nil, nil)
	require.NoError(t, err)
	require.Equal(t, Score{Warnings: []Warning{NoCases}}, score)
}

func TestCalibrationRefuses(t *testing.T) {
	for message, f := range map[string]func() error{
		"1 forecasts, 0 outcomes":        func() error { _, err := Brier([]float64{0.5}, nil); return err },
		"case 0: the forecast is NaN":    func() error { _, err := DistinctBins([]float64{math.NaN()}, []bool{true}); return err },
		"case 1: the forecast is 1.5":    func() error { _, err := ExpectedCalibrationError([]float64{1, 1.5}, []bool{true, true}, 1); return err },
		"0 bins":                         func() error { _, err := EqualMassBins(nil, nil, 0); return err },
		"-1 bins":                        func() error { _, err := EqualWidthBins(nil, nil, -1); return err },
		"case 0: the forecasts are no":   func() error { _, err := LogScore([][]float64{{0.5, 0.6}}, []int{0}); return err },
		"case 0: class 2 of 2 came true": func() error { _, err := BrierOfClasses([][]float64{{0.5, 0.5}}, []int{2}); return err },
		"0 forecasts, 1 outcomes":        func() error { _, err := BrierOfClasses(nil, []int{2}); return err },
	} {
		require.ErrorContains(t, f(), message)
	}
}

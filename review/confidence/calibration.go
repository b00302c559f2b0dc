package confidence

import (
	"math"
	"math/rand/v2"
	"slices"
)

// CalibrationBins is the number of bins of CalibrationError.
const CalibrationBins = 15

// calibrationDraws is the number of random repetitions behind its interval.
const calibrationDraws = 1000

// CalibrationError is how far forecasts are from what happened, in the mean over bins: Σ_k n_k / n · |o_k − f_k|.
type CalibrationError struct {
	Score
	// Low and High hold the true error in at least about 95 of 100 cases: Value − Chance − 1.96 · StandardError, not below
	// 0, to Value + 1.96 · StandardError, not above 1. The error is from a seeded bootstrap (Efron B. 1979.
	// Bootstrap methods: another look at the jackknife. Annals of Statistics 7: 1-26). Noise can only add
	// to an absolute value in the mean, and adds no more than the mean noise itself, which is Chance: so the bias of Value
	// is between 0 and Chance. The percentiles of the bootstrap carry that bias twice and hardly ever hold a small error.
	Low, High float64
	// Chance is the mean error that perfectly calibrated forecasts with the same values would show: an absolute value is
	// above 0 by chance alone, the more so the fewer the cases. A Value near Chance is no sign of bad calibration.
	Chance float64
	Bins   []Bin
}

// ExpectedCalibrationError is computed over CalibrationBins bins of equal mass. p are probabilities from 0 to 1 (the
// confidence in the name), happened says whether the event came about (the name was right). The truth must come from
// somewhere else than what made the forecasts. The interval takes cases as independent; the same seed gives the same
// interval.
//
// Source: Naeini M.P., Cooper G.F., Hauskrecht M. 2015. Obtaining well calibrated probabilities using Bayesian binning.
// Proceedings of the AAAI Conference on Artificial Intelligence (there with bins of equal width). The interval is our
// own; TestCalibrationError simulates how often it holds.
func ExpectedCalibrationError(p []float64, happened []bool, seed uint64) (CalibrationError, error) {
	groups, err := groupForecasts(p, happened)
	if err != nil {
		return CalibrationError{}, err
	}
	e := CalibrationError{Score: newScore(make([]float64, len(p)))}
	if !e.OK {
		return e, nil
	}
	bins := equalMass(groups, CalibrationBins)
	e.Bins, e.Value = toBins(bins), meanDistance(bins)
	random := rand.New(rand.NewPCG(seed, seed))
	e.Chance = chance(bins, p, random)
	e.interval(draws(groups, len(p), random))
	e.warn()
	return e, nil
}

func (e *CalibrationError) warn() {
	few := false
	for _, b := range e.Bins {
		few = few || len(b.Warnings) > 0
	}
	if few && !slices.Contains(e.Warnings, FewCases) {
		e.Warnings = append(e.Warnings, FewCases)
	}
}

func meanDistance(bins []group) float64 {
	distance, n := 0.0, 0.0
	for _, b := range bins {
		distance += math.Abs(b.events - b.forecasts)
		n += b.n
	}
	return distance / n
}

// interval takes the standard deviation of the errors of the bootstrap.
func (e *CalibrationError) interval(errors []float64) {
	n := float64(len(errors))
	mean, squares := sum(errors)/n, 0.0
	for _, v := range errors {
		squares += (v - mean) * (v - mean)
	}
	e.StandardError = math.Sqrt(squares / (n - 1))
	e.Low = max(e.Value-e.Chance-z975*e.StandardError, 0)
	e.High = min(e.Value+z975*e.StandardError, 1)
}

// draws are the errors of as many cases drawn with replacement.
func draws(groups []group, cases int, random *rand.Rand) []float64 {
	// Cases in order of forecast; within a group those in which the event happened come first.
	owner := make([]int, 0, cases)
	events := make([]bool, 0, cases)
	for g := range groups {
		for i := range int(groups[g].n) {
			owner, events = append(owner, g), append(events, i < int(groups[g].events))
		}
	}
	errors, drawn := make([]float64, calibrationDraws), make([]group, len(groups))
	for i := range errors {
		for g := range drawn {
			drawn[g] = group{least: groups[g].least, most: groups[g].most}
		}
		for range owner {
			at := random.IntN(len(owner))
			g := &drawn[owner[at]]
			g.n++
			if events[at] {
				g.events++
			}
		}
		for g := range drawn {
			drawn[g].forecasts = drawn[g].n * groups[g].forecasts / groups[g].n
		}
		errors[i] = meanDistance(equalMass(drawn, CalibrationBins))
	}
	return errors
}

// chanceDraws is the number of repetitions behind Chance, which needs a mean only.
const chanceDraws = 200

// chance draws the outcomes anew with the forecasts as their probabilities.
func chance(bins []group, p []float64, random *rand.Rand) float64 {
	p = slices.Clone(p)
	slices.Sort(p)
	total := 0.0
	for range chanceDraws {
		i := 0
		for _, b := range bins {
			excess := -b.forecasts
			for range int(b.n) {
				if random.Float64() < p[i] {
					excess++
				}
				i++
			}
			total += math.Abs(excess)
		}
	}
	return total / chanceDraws / float64(len(p))
}

package pages

import (
	"context"
	"math"
	"strconv"
	"strings"

	"revidit/review/audit"
	"revidit/review/confidence"
	"revidit/web/words"
	say "revidit/web/words/problems"
)

// Drawings on this site have places in per cent of their width and sizes in pixels: so text keeps its size on a narrow
// screen and in print.

// axis is what the width of a drawing stands for.
type axis struct {
	From, To float64
	Ticks    []float64
	Words    string // id of what stands below it
}

// Margins keep dots and numbers at the ends of an axis inside the drawing, in per cent.
const axisMargin = 4

// at is the place of a value, cut off at the ends.
func (a axis) at(x float64) string {
	share := (x - a.From) / (a.To - a.From)
	return percent(axisMargin + (100-2*axisMargin)*min(max(share, 0), 1))
}

func percent(x float64) string { return strconv.FormatFloat(x, 'f', 2, 64) + "%" }

// dot is a value on an axis: filled or hollow, with a line from Low to High where Lined.
type dot struct {
	Value, Low, High float64
	Lined, Hollow    bool
}

// interval95 is a value with 1.96 standard errors on either side; without an error there is no line.
func interval95(value, standardError float64, hollow bool) dot {
	const z = 1.96
	return dot{Value: value, Low: value - z*standardError, High: value + z*standardError, Lined: standardError > 0, Hollow: hollow}
}

var agreementAxis = axis{From: -0.25, To: 1, Ticks: []float64{0, 0.25, 0.5, 0.75, 1}, Words: "plot.agreement-axis"}

var accuracyAxis = axis{From: 0.4, To: 1, Ticks: []float64{0.4, 0.6, 0.8, 1}, Words: "plot.accuracy-axis"}

var shareAxis = axis{From: 0, To: 1, Ticks: []float64{0, 0.25, 0.5, 0.75, 1}, Words: "plot.share-axis"}

// countAxis goes from 0 to a round number at or above most.
func countAxis(most float64, words string) axis {
	step := math.Pow(10, math.Floor(math.Log10(max(most, 1))))
	for _, times := range []float64{1, 2, 5, 10} {
		if times*step >= most {
			step *= times
			break
		}
	}
	return axis{From: 0, To: step, Ticks: []float64{0, step / 2, step}, Words: words}
}

// dotsOf are the defined values of two coefficients, the first with its interval, the second hollow.
func dotsOf(filled, hollow audit.Coefficient) []dot {
	var dots []dot
	if hollow.Value != nil {
		dots = append(dots, dot{Value: *hollow.Value, Hollow: true})
	}
	if filled.Value != nil {
		dots = append(dots, interval95(*filled.Value, filled.StandardError, false))
	}
	return dots
}

// two and three are numbers with so many decimals.
func two(ctx context.Context, x float64) string { return words.Fixed(ctx, x, 2) }

func three(ctx context.Context, x float64) string { return words.Fixed(ctx, x, 3) }

func coefficient(ctx context.Context, c audit.Coefficient) string {
	if c.Value == nil {
		return words.T(ctx, "plot.not-defined")
	}
	if c.StandardError == 0 {
		return two(ctx, *c.Value)
	}
	return two(ctx, *c.Value) + " ± " + two(ctx, c.StandardError)
}

// restsOn says how much a coefficient rests on.
func restsOn(ctx context.Context, c audit.Coefficient) string {
	return words.N(ctx, "plot.units", c.Units) + ", " + words.N(ctx, "plot.ratings", c.Ratings)
}

// shortWarnings are the ids of the warnings of a table, which explains them once below.
var shortWarnings = map[confidence.Warning]string{
	confidence.FewCases: "plot.few", confidence.OneCategory: "plot.one-state", confidence.NobodyDisagreed: "plot.nobody-disagreed",
	confidence.PriorDecides: "plot.prior-decides", confidence.NeverBlind: "plot.never-blind", confidence.NoCases: "plot.no-cases",
	confidence.WorseThanHalf: "plot.worse-than-half", confidence.OneOutcome: "plot.one-outcome",
}

// inFull are the ids of warnings where there is room for them.
var inFull = map[confidence.Warning]string{
	confidence.NoCases: "plot.no-cases", confidence.FewCases: "plot.in-full-few", confidence.OneOutcome: "plot.in-full-one-outcome", confidence.ForecastZero: "plot.in-full-forecast-zero",
	confidence.OneCategory: "plot.in-full-one-state", confidence.NobodyDisagreed: "plot.nobody-disagreed", confidence.NotConverged: "plot.in-full-not-converged",
	confidence.NothingShared: "plot.in-full-nothing-shared", confidence.NoBlindChecks: "plot.in-full-no-blind-checks", confidence.RoleAnchoring: "plot.in-full-role-anchoring",
	confidence.PriorDecides: "plot.in-full-prior-decides", confidence.NeverBlind: "plot.in-full-never-blind", confidence.WorseThanHalf: "plot.in-full-worse-than-half",
	confidence.UnusedClass: "plot.in-full-unused-class",
}

// shortWarning are the warnings of a number in a table, empty where there are none.
func shortWarning(ctx context.Context, warnings []confidence.Warning) string {
	return joined(ctx, warnings, shortWarnings)
}

// WarningInFull is a warning in the language of who reads. What was stored before there were codes is a sentence.
func WarningInFull(ctx context.Context, w confidence.Warning) string {
	switch code, what := w.Cut(); {
	case code == confidence.FromHistory:
		return words.T(ctx, "plot.in-full-from-history", "Rows", what)
	case code == confidence.LeftOut:
		count, names, _ := strings.Cut(what, ":")
		if n, err := strconv.Atoi(count); err == nil {
			return words.N(ctx, "plot.in-full-left-out", n, "Records", names)
		}
	case inFull[w] != "":
		return words.T(ctx, inFull[w])
	}
	return say.Phrase(ctx, string(w))
}

// warningWords are the warnings of a number in full.
func warningWords(ctx context.Context, warnings []confidence.Warning) string {
	return joined(ctx, warnings, nil)
}

func joined(ctx context.Context, warnings []confidence.Warning, short map[confidence.Warning]string) string {
	told := make([]string, len(warnings))
	for i, w := range warnings {
		told[i] = WarningInFull(ctx, w)
		if id, ok := short[w]; ok {
			told[i] = words.T(ctx, id)
		}
	}
	return capital(strings.Join(told, "; "))
}

// diagramFrom is where the axes of a reliability diagram begin: claims mostly lie near 1.
func diagramFrom(bins []audit.Bin) float64 {
	least := 1.0
	for _, b := range bins {
		least = min(least, b.Claimed, b.Observed)
	}
	return max(0, math.Floor((least-0.1)*4)/4)
}

// roomBeside says which bins have room for their number of cases beside them.
func roomBeside(bins []audit.Bin, from float64) []bool {
	shown := make([]bool, len(bins))
	last := -1.0
	for i, b := range bins {
		if place := (b.Claimed - from) / (1 - from); place-last > 0.09 || last < 0 {
			shown[i], last = true, place
		}
	}
	return shown
}

// square is the place of a share in a diagram of which both axes go from a value to 1, from the left or the top.
type square struct{ from float64 }

func (s square) x(v float64) string { return percent(100 * s.share(v)) }

func (s square) y(v float64) string { return percent(100 - 100*s.share(v)) }

func (s square) share(v float64) float64 { return min(max((v-s.from)/(1-s.from), 0), 1) }

// ticks are round numbers: diagrams begin at a quarter of the whole.
func (s square) ticks() []float64 {
	step := 0.25
	switch {
	case s.from >= 0.75:
		step = 0.05
	case s.from >= 0.5:
		step = 0.1
	}
	var ticks []float64
	for t := s.from; t < 1+step/2; t += step {
		ticks = append(ticks, t)
	}
	return ticks
}

func tick(ctx context.Context, x float64) string {
	return words.Number(ctx, math.Round(x*1000)/1000)
}

// radius grows with the number of cases, in pixels.
func radius(cases int) string { return px(min(3+math.Sqrt(float64(cases))/2, 8)) }

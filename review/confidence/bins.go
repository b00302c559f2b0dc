package confidence

import (
	"fmt"
	"math"
	"slices"
)

// Bin is one bin of a reliability diagram: what was forecast, and how often it happened.
type Bin struct {
	Cases float64
	// Forecast is the mean forecast, Least and Most are the smallest and largest.
	Forecast, Least, Most float64
	// Observed is the share of cases in which the event happened. Low and High are its 95 % interval (Wilson 1927), which
	// takes cases as independent.
	Observed, Low, High float64
	// Score is the mean squared error of the forecasts, the Brier score within the bin.
	Score    float64
	Warnings []Warning
}

// NewBin is a bin of cases with one and the same forecast, of which in events the event happened.
func NewBin(forecast, cases, events float64) Bin {
	g := group{n: cases, forecasts: forecast * cases, events: events, least: forecast, most: forecast,
		squares: events*(1-forecast)*(1-forecast) + (cases-events)*forecast*forecast}
	return g.bin()
}

// sameForecast is how near forecasts count as one: sums such as 0.1 + 0.2 and 0.3 differ in their last digits.
const sameForecast = 1e-9

// DistinctBins puts the cases of each forecast into a bin, in ascending order. p are probabilities of an event from 0 to
// 1, happened says whether it came about. Forecasts within 1e-9 of the first of a bin count as one.
func DistinctBins(p []float64, happened []bool) ([]Bin, error) {
	groups, err := groupForecasts(p, happened)
	return toBins(groups), err
}

// EqualMassBins puts the cases, ordered by forecast, into at most n bins of as equal numbers as ties allow: cases with
// one forecast stay together, so that their order does not matter.
func EqualMassBins(p []float64, happened []bool, n int) ([]Bin, error) {
	if n < 1 {
		return nil, fmt.Errorf("%d bins", n)
	}
	groups, err := groupForecasts(p, happened)
	return toBins(equalMass(groups, n)), err
}

// EqualWidthBins cuts 0 to 1 into n bins of equal width, a forecast at an edge belonging to the upper one, and leaves out
// those without a case.
func EqualWidthBins(p []float64, happened []bool, n int) ([]Bin, error) {
	if n < 1 {
		return nil, fmt.Errorf("%d bins", n)
	}
	groups, err := groupForecasts(p, happened)
	bin := func(g group) int { return min(int((g.least+sameForecast)*float64(n)), n-1) }
	return toBins(merge(groups, bin)), err
}

func checkForecasts(p []float64, happened []bool) error {
	if len(p) != len(happened) {
		return fmt.Errorf("%d forecasts, %d outcomes", len(p), len(happened))
	}
	for i, v := range p {
		if !(v >= 0 && v <= 1) {
			return fmt.Errorf("case %d: the forecast is %v, not from 0 to 1", i, v)
		}
	}
	return nil
}

// group are sums over cases.
type group struct {
	n, forecasts, events, squares float64
	least, most                   float64
}

func (g *group) add(other group) {
	if g.n == 0 {
		g.least = other.least
	}
	g.n += other.n
	g.forecasts += other.forecasts
	g.events += other.events
	g.squares += other.squares
	g.most = other.most
}

func (g group) bin() Bin {
	b := Bin{Cases: g.n, Least: g.least, Most: g.most}
	if g.n < fewInBin {
		b.Warnings = []Warning{FewCases}
	}
	if g.n > 0 {
		b.Forecast, b.Observed, b.Score = g.forecasts/g.n, g.events/g.n, g.squares/g.n
	}
	b.Low, b.High = wilson(b.Observed, g.n)
	return b
}

func toBins(groups []group) []Bin {
	var out []Bin
	for _, g := range groups {
		out = append(out, g.bin())
	}
	return out
}

// groupForecasts sums up the cases of each forecast, ascending.
func groupForecasts(p []float64, happened []bool) ([]group, error) {
	if err := checkForecasts(p, happened); err != nil {
		return nil, err
	}
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		switch {
		case p[a] < p[b]:
			return -1
		case p[a] > p[b]:
			return 1
		case happened[a] == happened[b]:
			return 0
		case happened[a]:
			return 1
		}
		return -1
	})
	var out []group
	for _, i := range order {
		if len(out) == 0 || p[i]-out[len(out)-1].least > sameForecast {
			out = append(out, group{least: p[i]})
		}
		out[len(out)-1].add(caseGroup(p[i], happened[i]))
	}
	return out, nil
}

func caseGroup(p float64, happened bool) group {
	if happened {
		return group{n: 1, forecasts: p, events: 1, squares: (1 - p) * (1 - p), least: p, most: p}
	}
	return group{n: 1, forecasts: p, squares: p * p, least: p, most: p}
}

// equalMass puts a group where the middle of its cases falls.
func equalMass(groups []group, n int) []group {
	total, before := 0.0, 0.0
	for _, g := range groups {
		total += g.n
	}
	return merge(groups, func(g group) int {
		middle := before + g.n/2
		before += g.n
		return min(int(middle*float64(n)/total), n-1)
	})
}

// merge adds up neighbouring groups of one bin, which must not fall along the groups, and leaves out empty ones.
func merge(groups []group, bin func(group) int) []group {
	var out []group
	last := -1
	for _, g := range groups {
		if g.n == 0 {
			continue
		}
		if b := bin(g); b != last {
			out = append(out, group{})
			last = b
		}
		out[len(out)-1].add(g)
	}
	return out
}

// z975 is the 97.5th percentile of the standard normal distribution.
const z975 = 1.959963984540054

// wilson is the 95 % score interval of a share. Source: Wilson E.B. 1927. Probable inference, the law of succession, and
// statistical inference. Journal of the American Statistical Association 22: 209-212. Without cases it is 0 to 1.
func wilson(share, n float64) (low, high float64) {
	if n == 0 {
		return 0, 1
	}
	z2 := z975 * z975 / n
	middle := (share + z2/2) / (1 + z2)
	half := z975 / (1 + z2) * math.Sqrt(max(share*(1-share)/n+z2/(4*n), 0))
	return max(middle-half, 0), min(middle+half, 1)
}

package main

import (
	"fmt"
	"io"

	"revidit/cmd/revidit/simulator"
)

// calibrationReport words the results of all ordinary worlds.
type calibrationReport struct {
	out     io.Writer
	results []simulator.Result
}

// figure is one line of the table. of is false where a world has no such figure.
type figure struct {
	label, target string
	of            func(f *simulator.Figures) (float64, bool)
}

func always(of func(f *simulator.Figures) float64) func(*simulator.Figures) (float64, bool) {
	return func(f *simulator.Figures) (float64, bool) { return of(f), true }
}

var (
	calibrationError = figure{"Expected calibration error of the top name", "at most 0.02", always(func(f *simulator.Figures) float64 { return f.Ours.Calibration })}
	brierRatio       = figure{"Brier score by that of the majority vote", "at most 0.6", always(func(f *simulator.Figures) float64 { return f.Ours.Brier / f.Majority.Brier })}
	brierFixedRatio  = figure{"Brier score by that with fixed reliabilities", "below 1", always(func(f *simulator.Figures) float64 { return f.Ours.Brier / f.Fixed.Brier })}
	looksRatio       = figure{"Looks by those in order of arrival", "at most 0.5", (*simulator.Figures).LooksRatio}
	reliabilityError = figure{"Mean absolute error of reliability after 200 reports", "at most 0.05", always(func(f *simulator.Figures) float64 { return f.Reliability })}
)

func known(n int) (float64, bool) { return float64(n), n >= 0 }

var figureLines = []figure{
	{"Right names before any review", "", always(func(f *simulator.Figures) float64 { return f.Start })},
	{"Right names in the end", "", always(func(f *simulator.Figures) float64 { return f.Ours.Right })},
	{"  with fixed reliabilities", "", always(func(f *simulator.Figures) float64 { return f.Fixed.Right })},
	{"  by majority vote", "", always(func(f *simulator.Figures) float64 { return f.Majority.Right })},
	calibrationError,
	{"  of which chance alone would show", "", always(func(f *simulator.Figures) float64 { return f.Ours.Chance })},
	{"  with fixed reliabilities", "", always(func(f *simulator.Figures) float64 { return f.Fixed.Calibration })},
	{"  of the share in a majority vote", "", always(func(f *simulator.Figures) float64 { return f.Majority.Calibration })},
	{"Brier score", "", always(func(f *simulator.Figures) float64 { return f.Ours.Brier })},
	{"  with fixed reliabilities", "", always(func(f *simulator.Figures) float64 { return f.Fixed.Brier })},
	{"  of the share in a majority vote", "", always(func(f *simulator.Figures) float64 { return f.Majority.Brier })},
	brierRatio,
	brierFixedRatio,
	{"Log score", "", always(func(f *simulator.Figures) float64 { return f.Ours.Log })},
	{"  with fixed reliabilities", "", always(func(f *simulator.Figures) float64 { return f.Fixed.Log })},
	{"  of the share in a majority vote", "", always(func(f *simulator.Figures) float64 { return f.Majority.Log })},
	{"Looks: verdicts until 95 % of top names are right", "", func(f *simulator.Figures) (float64, bool) { return known(f.Looks) }},
	{"  in order of arrival", "", func(f *simulator.Figures) (float64, bool) { return known(f.LooksArrival) }},
	{"  all verdicts until every case is closed", "", func(f *simulator.Figures) (float64, bool) { return known(f.Spent) }},
	looksRatio,
	reliabilityError,
	{"  the same people and regions in the end", "", always(func(f *simulator.Figures) float64 { return f.ReliabilityEnd })},
}

// values of a figure in the worlds that have it.
func (p *calibrationReport) values(f figure) []float64 {
	var out []float64
	for i := range p.results {
		if v, ok := f.of(&p.results[i].Figures); ok {
			out = append(out, v)
		}
	}
	return out
}

func (p *calibrationReport) table(specimens int) {
	fmt.Fprintf(p.out, "%d made-up clubs of 40 members and 12 reviewers, %d specimens each: means with 95 %% intervals over clubs.\n\n", len(p.results), specimens)
	for _, f := range figureLines {
		values := p.values(f)
		if len(values) == 0 {
			fmt.Fprintf(p.out, "  %-52s %10s\n", f.label, "unknown")
			continue
		}
		e := simulator.EstimateOf(values)
		line := fmt.Sprintf("  %-52s %10s  %10s to %-10s  %s", f.label, digits(e.Mean), digits(e.Low), digits(e.High), f.target)
		if n := len(p.results) - len(values); n > 0 {
			line += fmt.Sprintf(" (%d of the clubs never get there)", n)
		}
		fmt.Fprintln(p.out, line)
	}
}

// digits are four decimals, or none where a number is large.
func digits(v float64) string {
	if v >= 100 {
		return fmt.Sprintf("%.0f", v)
	}
	return fmt.Sprintf("%.4f", v)
}

// days sets bad days beside an ordinary one.
func (p *calibrationReport) days(results []simulator.Result) {
	fmt.Fprintf(p.out, "\nBad days, in a club of %d specimens.\n", len(results[0].Specimens))
	for i, r := range results {
		fmt.Fprintf(p.out, "\n%s\n", badDays[i].title)
		p.day(r)
	}
}

func (p *calibrationReport) day(r simulator.Result) {
	f, s := &r.Figures, &r.Signs
	fmt.Fprintf(p.out, "  The numbers: %.4f of top names right, calibration error %.4f, Brier score %.4f, log score %.4f, majority right %.4f, reliability error %.4f.\n",
		f.Ours.Right, f.Ours.Calibration, f.Ours.Brier, f.Ours.Log, f.Majority.Right, f.Reliability)
	fmt.Fprintf(p.out, "  Blind panels on %d closed cases: claimed %.4f, found %.4f. Excluded or unusual states still stand against %.4f of confirmed names.\n",
		s.Panel, s.Claimed, s.Found, s.Contradicted)
	fmt.Fprintf(p.out, "  First reviewer: anchoring estimated at %.2f, disputes %.4f of what is shown, differs from %.4f of it when blind; the others %.2f, %.4f, %.4f.\n",
		s.First.Anchoring, s.First.Disputes, s.First.BlindDiffers, s.Others.Anchoring, s.Others.Disputes, s.Others.BlindDiffers)
	fmt.Fprintf(p.out, "  First two reviewers: kappa %.3f on the same observations; all other pairs %.3f with a standard deviation of %.3f.\n",
		s.Pair, s.Pairs, s.PairsSpread)
}

// figures are the line for a program to read.
func (p *calibrationReport) figures() string {
	mean := func(f figure) string {
		values := p.values(f)
		if len(values) < len(p.results) {
			return "unknown"
		}
		return fmt.Sprintf("%.4f", simulator.EstimateOf(values).Mean)
	}
	return fmt.Sprintf("calibration_error=%s brier_ratio=%s brier_fixed_ratio=%s looks_ratio=%s reliability_error=%s",
		mean(calibrationError), mean(brierRatio), mean(brierFixedRatio), mean(looksRatio), mean(reliabilityError))
}

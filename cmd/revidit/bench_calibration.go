package main

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime/debug"

	"revidit/cmd/revidit/simulator"
	"revidit/cmd/revidit/simulator/nature"
	"revidit/review"
	"revidit/review/diagnosis"
)

type benchCalibration struct {
	Seeds     int    `help:"Made-up clubs, with seeds from 1 on." default:"5" placeholder:"N"`
	Specimens int    `help:"Specimens of each club." default:"10000" placeholder:"N"`
	Raw       string `help:"Also write one line for each specimen, as CSV, to this file." type:"path" placeholder:"FILE"`
}

// Validate checks the numbers.
func (c *benchCalibration) Validate() error {
	if c.Seeds < 1 || c.Specimens < 50 {
		return errors.New("--seeds must be above 0 and --specimens at least 50; nothing was measured")
	}
	return nil
}

// badSpecimens is how many specimens a bad day has at most, to be done in a reasonable time.
const badSpecimens = 1200

// garbage is the growth of memory in per cent between two rounds of garbage collection: everything made up stays to the
// end, so that to look through it often takes a sixth of the time for little memory.
const garbage = 400

// badDays are what is tried beside an ordinary day in a smaller club of the first seed.
var badDays = []struct {
	title string
	spoil func(*nature.Options)
}{
	{"An ordinary day", func(*nature.Options) {}},
	{"A tenth of the table cells are wrong", func(o *nature.Options) { o.WrongCells = 0.1 }},
	{"One reviewer of twelve confirms every state and every name", func(o *nature.Options) { o.ConfirmsAll = true }},
	{"Two reviewers repeat what the other has said", func(o *nature.Options) { o.Copies = true }},
}

// Run simulates and prints, and ends with the line of figures.
func (c *benchCalibration) Run(ctx context.Context, io console) error {
	ordinary, bad, err := c.simulate(ctx, c.progress(io))
	if err != nil {
		return err
	}
	if c.Raw != "" {
		if err := writeRaw(c.Raw, ordinary); err != nil {
			return fmt.Errorf("write %s: %w; nothing else is lost, run it again with another file", c.Raw, err)
		}
	}
	c.report(io.out, ordinary, bad)
	return nil
}

func (c *benchCalibration) report(out io.Writer, ordinary, bad []simulator.Result) {
	p := calibrationReport{out: out, results: ordinary}
	p.table(c.Specimens)
	p.days(bad)
	fmt.Fprintf(out, "\n%s\n", p.figures())
}

// progress shows a bar on a terminal, and is told of each closed specimen.
func (c *benchCalibration) progress(io console) (closed func()) {
	bar := newBar(io, "Closing the specimens of made-up clubs", c.closings())
	if bar == nil {
		return func() {}
	}
	return func() { _ = bar.Add(1) } // a bar that cannot be drawn is no reason to stop
}

// closings is how many specimens are closed in all worlds: ordinary ones twice, the second time in order of arrival.
func (c *benchCalibration) closings() int {
	return 2*c.Seeds*c.Specimens + len(badDays)*min(c.Specimens, badSpecimens)
}

// simulate runs all worlds, ordinary ones first. closed is told of each closed specimen, by several worlds at once.
func (c *benchCalibration) simulate(ctx context.Context, closed func()) (ordinary, bad []simulator.Result, err error) {
	defer debug.SetGCPercent(debug.SetGCPercent(garbage))
	judge := review.NewJudge(diagnosis.Default())
	ordinary, bad = make([]simulator.Result, c.Seeds), make([]simulator.Result, len(badDays))
	err = simulator.Each(ctx, c.Seeds+len(badDays), func(ctx context.Context, i int) error {
		o := nature.Options{Seed: uint64(i + 1), Specimens: c.Specimens, WrongCells: nature.UsuallyWrongCells}
		var err error
		if i < c.Seeds {
			ordinary[i], err = simulator.Run(ctx, judge, o, closed)
			return err
		}
		o.Seed, o.Specimens = 1, min(o.Specimens, badSpecimens)
		badDays[i-c.Seeds].spoil(&o)
		bad[i-c.Seeds], err = simulator.RunOurs(ctx, judge, o, closed)
		return err
	})
	return ordinary, bad, err
}

func writeRaw(path string, results []simulator.Result) (err error) {
	file, err := os.Create(path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	return rawLines(file, results)
}

func rawLines(out io.Writer, results []simulator.Result) error {
	w := csv.NewWriter(out)
	if err := w.Write(simulator.RawHeader); err != nil {
		return err
	}
	w.Flush()
	for _, r := range results {
		if err := simulator.WriteRaw(out, r); err != nil {
			return err
		}
	}
	return w.Error()
}

package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"revidit/cmd/revidit/simulator"
	"revidit/cmd/revidit/simulator/nature"
	"revidit/review"
	"revidit/review/diagnosis"
)

type benchRecords struct {
	Files  []string `arg:"" help:"Records with a mistake each, as JSON lines: species, family, observations and mistake (states by character)." type:"existingfile" name:"file"`
	Draws  int      `help:"Specimens drawn for each record, with a mistake at any character and as many with one at the record's." default:"200" placeholder:"N"`
	Seed   uint64   `help:"Seed of the made-up world." default:"1" placeholder:"N"`
	Totals bool     `help:"Leave out the lines of single records."`
}

// Validate checks the numbers.
func (c *benchRecords) Validate() error {
	if c.Draws < 1 {
		return errors.New("--draws must be above 0; nothing was measured")
	}
	return nil
}

// Run tries all records, and ends with a line of figures for each file and one for all together.
func (c *benchRecords) Run(ctx context.Context, io console) error {
	judge := review.NewJudge(diagnosis.Default())
	world := nature.AsTables(judge.Tables(), c.Seed)
	var all recordFigures
	var lines []string
	for _, file := range c.Files {
		records, err := readRecords(file, judge.Tables())
		if err != nil {
			return err
		}
		trials := make([]simulator.RecordTrial, len(records))
		err = simulator.Each(ctx, len(records), func(_ context.Context, i int) (err error) {
			trials[i], err = simulator.TryRecord(judge, world, records[i], c.Draws)
			return err
		})
		if err != nil {
			return fmt.Errorf("%s: %w; nothing was measured", file, err)
		}
		var figures recordFigures
		for _, t := range trials {
			if !c.Totals {
				fmt.Fprintln(io.out, recordLine(t))
			}
			figures.add(t)
			all.add(t)
		}
		lines = append(lines, fmt.Sprintf("file=%s %v", filepath.Base(file), figures))
	}
	fmt.Fprintf(io.out, "\n%s\nfile=all %v\n", strings.Join(lines, "\n"), all)
	return nil
}

func readRecords(name string, tables *diagnosis.Tables) ([]simulator.Record, error) {
	file, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	records, err := simulator.ReadRecords(file, tables)
	if err != nil {
		return nil, fmt.Errorf("%s, %w; nothing was measured", name, err)
	}
	return records, nil
}

// recordLine is one record in words.
func recordLine(t simulator.RecordTrial) string {
	ours, expert, unaware, _ := t.Any.Shares()
	line := fmt.Sprintf("%-30s %-16s %-60s ours %-16s %.3f, expert %s/%s; drawn %.2f of %.2f (%.2f)", t.Record.Species, t.Record.Family, fmt.Sprint(t.Record.Mistake),
		t.Leader, t.P, leads(t.Expert), leads(t.Unaware), ours, expert, unaware)
	if ours, expert, unaware, ok := t.Same.Shares(); ok {
		return line + fmt.Sprintf("; the same mistaken %.2f of %.2f (%.2f)", ours, expert, unaware)
	}
	return line + "; the same is never mistaken"
}

func leads(yes bool) string {
	if yes {
		return "leads"
	}
	return "loses"
}

// recordFigures sum up records.
type recordFigures struct {
	records, led, expert, unaware int
	any, same                     leadFigures
}

// leadFigures are sums of shares over records that have any draws.
type leadFigures struct {
	records               int
	ours, expert, unaware float64
}

func (f *recordFigures) add(t simulator.RecordTrial) {
	f.records++
	for _, lead := range []struct {
		n   *int
		yes bool
	}{{&f.led, t.Ours}, {&f.expert, t.Expert}, {&f.unaware, t.Unaware}} {
		if lead.yes {
			*lead.n++
		}
	}
	f.any.add(t.Any)
	f.same.add(t.Same)
}

func (f *leadFigures) add(l simulator.Leads) {
	ours, expert, unaware, ok := l.Shares()
	if !ok {
		return
	}
	f.records++
	f.ours += ours
	f.expert += expert
	f.unaware += unaware
}

func (f leadFigures) text(name string) string {
	n := float64(max(f.records, 1))
	return fmt.Sprintf("%s_ours=%.3f %s_expert=%.3f %s_unaware=%.3f", name, f.ours/n, name, f.expert/n, name, f.unaware/n)
}

// String is for a program to read.
func (f recordFigures) String() string {
	return fmt.Sprintf("records=%d led_ours=%d led_expert=%d led_unaware=%d %s %s", f.records, f.led, f.expert, f.unaware, f.any.text("any"), f.same.text("same"))
}

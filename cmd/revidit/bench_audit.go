package main

import (
	"context"
	"fmt"
	"text/tabwriter"
	"time"

	"revidit/cmd/revidit/stopwatch"
)

// benchAudit measures the pages of an audit in collections as those of bench pages are.
type benchAudit struct {
	Rows     int    `help:"Submissions of the large collection; the small one has a hundredth of them." default:"100000" placeholder:"N"`
	Lives    int    `help:"Different lives that the submissions are made of." default:"200" placeholder:"N"`
	Seed     uint64 `help:"Seed of the made-up collection." default:"1" placeholder:"N"`
	Keep     string `help:"Folder to keep the filled databases in; SQLite files that are there from a run before, of bench pages too, are measured again. Empty: a temporary one, removed at the end." type:"path" placeholder:"DIR"`
	Database string `help:"postgres:// URL of a server to use in place of one of our own, by a user who may create databases." placeholder:"URL"`
	Rounds   int    `help:"Rounds of each page at most; slow ones get fewer." default:"101" placeholder:"N"`
	Only     string `help:"Only this database." enum:",sqlite,postgres" default:""`
}

func (c *benchAudit) collections() *benchPages {
	return &benchPages{Rows: c.Rows, Lives: c.Lives, Seed: c.Seed, Keep: c.Keep, Database: c.Database, Each: time.Second, Rounds: c.Rounds, Only: c.Only}
}

// Validate checks the numbers.
func (c *benchAudit) Validate() error { return c.collections().Validate() }

// Run fills, measures and prints, and ends with the line of figures.
func (c *benchAudit) Run(ctx context.Context, io console) error {
	return c.collections().run(ctx, io, (*pagesMeasuring).auditPages, (*pagesMeasuring).auditFigures)
}

// auditPages measures the first pages of a pair.
func (m *pagesMeasuring) auditPages(ctx context.Context, name string, pair stopwatch.Pair) error {
	found, err := pair.Audit(ctx, func(what string) { m.step(name+": "+what, 0, 1) })
	if err != nil {
		return err
	}
	m.auditTable(found)
	m.audits = append(m.audits, found...)
	return nil
}

func (m *pagesMeasuring) auditTable(lines []stopwatch.AuditLine) {
	t := tabwriter.NewWriter(m.out, 2, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintf(t, "%d\t%d\tgrowth\tstatements\tbesides\trounds\t\t  \n", m.command.Rows/hundredth, m.command.Rows)
	for _, l := range lines {
		fmt.Fprintf(t, "%.2f ms\t%.2f ms\t%.2f\t%.2f ms\t%.2f ms\t%d\t%d, %d KB\t  %s %s\n", milliseconds(l.Small), milliseconds(l.Large), l.Growth(), milliseconds(l.SQL),
			milliseconds(l.Over), l.Rounds, l.SmallBytes>>10, l.LargeBytes>>10, l.What, l.Fault)
	}
	t.Flush()
}

// auditFigures is for a program to read: the page that takes longest besides its statements, and the growth of the one that grows most.
func (m *pagesMeasuring) auditFigures() string {
	rows := m.command.Rows
	if len(m.audits) == 0 {
		return fmt.Sprintf("rows=%d first_page_ms=unknown sql_ms=unknown growth=unknown", rows)
	}
	worst := stopwatch.WorstOver(m.audits)
	return fmt.Sprintf("rows=%d first_page_ms=%.2f sql_ms=%.2f growth=%.2f", rows, milliseconds(worst.SQL+worst.Over), milliseconds(worst.SQL), stopwatch.WorstGrowth(m.audits).Growth())
}

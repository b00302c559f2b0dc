package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"runtime/debug"
	"strings"
	"text/tabwriter"
	"time"

	"revidit/cmd/revidit/stopwatch"
	"revidit/models"
	"revidit/models/pgserver"
	"revidit/review/diagnosis"
	"revidit/review/service"
	"revidit/web"
)

// pagesPassword is that of everybody in a measured collection, which holds nothing but invented data.
const pagesPassword = "pinned-and-measured"

// fill makes a collection and opens it as a site.
func (m *pagesMeasuring) fill(ctx context.Context, name, url string, submissions int) (*stopwatch.Site, error) {
	db, err := models.Open(ctx, url)
	if err != nil {
		return nil, err
	}
	site, err := m.filled(ctx, db, name, submissions)
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return site, nil
}

func (m *pagesMeasuring) filled(ctx context.Context, db *models.DB, name string, submissions int) (*stopwatch.Site, error) {
	if err := db.Migrate(ctx); err != nil {
		return nil, err
	}
	library := service.NewLibrary(diagnosis.Default())
	data := filepath.Join(m.folder, fmt.Sprintf("%s-%d", strings.ToLower(name), submissions))
	house, err := newHouse(ctx, db, inFolder(data), library, service.Options{})
	if err != nil {
		return nil, err
	}
	kept, err := db.Club(ctx)
	if err != nil {
		return nil, err
	}
	if kept.Empty {
		err = m.pour(ctx, house, name, submissions)
	} else {
		fmt.Fprintf(m.out, "  the collection of %d submissions is there from a run before\n", submissions)
	}
	if err != nil {
		return nil, err
	}
	server, err := web.New(web.Config{Service: house.service, Accounts: house.accounts, Log: slog.New(slog.DiscardHandler),
		DraftsPerMinute: 1_000_000}) // its clients send as fast as they are answered
	if err != nil {
		return nil, err
	}
	return &stopwatch.Site{Submissions: submissions, DB: db, Service: house.service, Accounts: house.accounts, Handler: server.Handler, Moulds: m.moulds,
		Password: pagesPassword}, nil
}

// pour makes the collection.
func (m *pagesMeasuring) pour(ctx context.Context, house *house, name string, submissions int) error {
	hash, err := house.accounts.Hash(ctx, "measurer", pagesPassword)
	if err != nil {
		return err
	}
	c := m.moulds.Of(submissions, m.command.Seed, time.Now(), hash)
	// Rows are made, written and forgotten: with room for four times what lives, a fifth of the time is not spent on collecting them.
	defer debug.SetGCPercent(debug.SetGCPercent(400))
	began, made, events := time.Now(), 0, 0
	err = house.db.Fill(ctx, c.Fillings(func(s, e int) {
		if made, events = s, e; s%100 == 0 {
			m.step(fmt.Sprintf("Filling %s with %d", name, submissions), min(s, submissions), submissions)
		}
	}))
	if err != nil {
		return err
	}
	fmt.Fprintf(m.out, "  filled with %d submissions, %d events (%.1f each), %d people in %.1f s\n", made, events, float64(events)/float64(made), c.People(), time.Since(began).Seconds())
	return nil
}

// submitRatio compares the service with the database alone.
func (m *pagesMeasuring) submitRatio(ctx context.Context, site *stopwatch.Site, server *pgserver.Server, url string) error {
	m.step("Submitting as fast as possible", 0, 1)
	watched := func(db *models.DB) *service.Service {
		return service.NewService(db, nil, service.NewLibrary(diagnosis.Default()), service.Options{})
	}
	submits, err := site.SubmitRatio(ctx, server, url, submitRounds, m.command.Each, watched)
	if errors.Is(err, stopwatch.ErrNoPgbench) {
		fmt.Fprintf(m.out, "  %v: submits were not compared.\n", err)
		return nil
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(m.out, "  Submits by eight clients, every one synced to the disk: %.0f a second; pgbench with the %d statements that one of them writes, in one transaction: %.0f a second (medians of %d rounds in turns)\n",
		submits.Ours, submits.Statements, submits.Theirs, submits.Rounds)
	m.submits = &submits
	return nil
}

// table shows every line.
func (m *pagesMeasuring) table(lines []stopwatch.Line) {
	t := tabwriter.NewWriter(m.out, 2, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintf(t, "\t%d\t%d\t\t\t\t  \n", m.command.Rows/hundredth, m.command.Rows)
	for _, l := range lines {
		size := ""
		if l.LargeBytes > 0 {
			size = fmt.Sprintf("%d, %d KB", l.SmallBytes>>10, l.LargeBytes>>10)
		}
		fmt.Fprintf(t, "%s\t%.2f ms\t%.2f ms\t%.2f\t%d rounds\t%s\t  %s %s\n", l.Kind, milliseconds(l.Small), milliseconds(l.Large), l.Growth(), l.Rounds, size, l.What, l.Fault)
	}
	t.Flush()
}

func milliseconds(d time.Duration) float64 { return d.Seconds() * 1000 }

// figures is for a program to read.
func (m *pagesMeasuring) figures() string {
	ratio := "unknown"
	if m.submits != nil {
		ratio = fmt.Sprintf("%.2f", m.submits.Ratio())
	}
	line := fmt.Sprintf("rows=%d submit_ratio=%s", m.command.Rows, ratio)
	if m.command.Audit {
		line = m.auditFigures() + "\n" + line
	}
	for _, kind := range stopwatch.Kinds {
		growth := "unknown"
		if worst, ok := stopwatch.Worst(m.lines, kind); ok {
			growth = fmt.Sprintf("%.2f", worst.Growth())
		}
		line += fmt.Sprintf(" %s_growth=%s", kind, growth)
	}
	return line
}

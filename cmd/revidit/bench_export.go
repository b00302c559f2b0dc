package main

import (
	"archive/zip"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"time"

	"revidit/cmd/revidit/collection"
	"revidit/cmd/revidit/stopwatch"
	"revidit/models"
	"revidit/review/darwincore"
	"revidit/review/diagnosis"
	"revidit/review/service"
)

type benchExport struct {
	Rows   int `help:"Rows of the archive, occurrences and identifications together, about." default:"200000" placeholder:"N"`
	Rounds int `help:"Archives that are written, in turns with COPY." default:"3" placeholder:"N"`
}

// Validate checks the numbers.
func (c *benchExport) Validate() error {
	if c.Rows < 1 || c.Rounds < 1 {
		return errors.New("--rows and --rounds must be above 0; nothing was measured")
	}
	return nil
}

// Run fills a PostgreSQL of its own, writes the archive from it, puts the rows of the archive into tables, and has COPY write these.
func (c *benchExport) Run(ctx context.Context, on console) error {
	return onOwnPostgres(ctx, "export", func(folder string, db *models.DB) error { return c.run(ctx, on, folder, db) })
}

func (c *benchExport) run(ctx context.Context, on console, folder string, db *models.DB) error {
	moulds, err := collection.Live(ctx, 1, fewestLives, func(int, int) {})
	if err != nil {
		return err
	}
	const rowsEach = 2 // a submission is a determination, of a specimen of its own as a rule
	if err := db.Fill(ctx, moulds.Of(max(c.Rows/rowsEach, 1), 1, time.Now(), "").Fillings(func(int, int) {})); err != nil {
		return err
	}
	b := exportBench{command: c, out: on.out, db: db, place: filepath.Join(folder, "archive.zip"),
		service: service.NewService(db, nil, service.NewLibrary(diagnosis.All()...), service.Options{Arriving: folder})}
	return b.measure(ctx)
}

// exportBench is one run.
type exportBench struct {
	command *benchExport
	out     io.Writer
	db      *models.DB
	service *service.Service
	place   string
}

func (b *exportBench) measure(ctx context.Context) error {
	fmt.Fprintf(b.out, "%s, %s/%s, %d cores; medians of %d rounds in turns. COPY writes the columns of the archive's core and identification history as CSV, from tables that hold just these.\n",
		runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.NumCPU(), b.command.Rounds)
	counts, _, err := b.archive(ctx)
	if err != nil {
		return err
	}
	if err := b.load(ctx); err != nil {
		return err
	}
	var ours, theirs []time.Duration
	debug.FreeOSMemory()
	forgetPeak()
	var copied models.CopiedRows
	var spent time.Duration
	for range b.command.Rounds {
		before := processTime()
		_, took, err := b.archive(ctx)
		if err != nil {
			return err
		}
		spent += processTime() - before
		if copied, err = b.db.CopyTables(ctx, tableNames...); err != nil {
			return err
		}
		ours, theirs = append(ours, took), append(theirs, copied.Took)
	}
	rows := counts.Occurrences + counts.Identifications
	if int64(rows) != copied.Rows {
		return fmt.Errorf("COPY wrote %d rows, the archive has %d", copied.Rows, rows)
	}
	packed, err := os.Stat(b.place)
	if err != nil {
		return err
	}
	archive, copy := stopwatch.Median(ours), stopwatch.Median(theirs)
	fmt.Fprintf(b.out, "  %d occurrences, %d identifications\n", counts.Occurrences, counts.Identifications)
	fmt.Fprintf(b.out, "  archive %.3f s, %.0f rows a second, %.1f MB packed; COPY %.3f s, %.0f rows a second, %.1f MB\n", archive.Seconds(), float64(rows)/archive.Seconds(),
		float64(packed.Size())/1e6, copy.Seconds(), float64(rows)/copy.Seconds(), float64(copied.Bytes)/1e6)
	fmt.Fprintf(b.out, "  an archive takes %.3f s of the processor, without PostgreSQL\n", spent.Seconds()/float64(b.command.Rounds))
	fmt.Fprintf(b.out, "\nrows=%d archive_s=%.3f copy_s=%.3f peak_mib=%d copy_ratio=%.2f\n", rows, archive.Seconds(), copy.Seconds(), peakBytes()>>20, copy.Seconds()/archive.Seconds())
	return nil
}

// archive writes the archive with everything but media, of which there are no rows in what COPY writes.
func (b *exportBench) archive(ctx context.Context) (counts darwincore.Counts, took time.Duration, err error) {
	file, err := os.Create(b.place)
	if err != nil {
		return counts, 0, err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	began := time.Now()
	made, err := b.service.HandOver(ctx, curatorOfBench, darwincore.Options{Title: "Bench", Organization: "Bench", License: darwincore.Licences[0], Collectors: true, Unsettled: true}, file, nil)
	return made.Counts, time.Since(began), err
}

var tableNames = []string{"bench_occurrence", "bench_identification"}

// load puts the rows of the archive into tables.
func (b *exportBench) load(ctx context.Context) error {
	packed, err := zip.OpenReader(b.place)
	if err != nil {
		return err
	}
	defer packed.Close()
	for i, name := range []string{"occurrence.csv", "identification.csv"} {
		columns, err := headerOf(&packed.Reader, name)
		if err != nil {
			return err
		}
		file, err := packed.Open(name)
		if err != nil {
			return err
		}
		err = b.db.LoadCSV(ctx, []models.CSVTable{{Name: tableNames[i], Columns: columns, From: file}})
		if err := errors.Join(err, file.Close()); err != nil {
			return err
		}
	}
	return nil
}

func headerOf(packed *zip.Reader, name string) ([]string, error) {
	file, err := packed.Open(name)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	return csv.NewReader(file).Read()
}

package main

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"revidit/models"
	"revidit/models/blob"
	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/service"
)

type benchInventory struct {
	Rows     int  `help:"Rows of the made-up table." default:"20000" placeholder:"N"`
	Postgres bool `help:"On a PostgreSQL of its own, beside COPY, in place of SQLite beside plain INSERTs."`
	Workbook bool `help:"The table is an XLSX workbook in place of CSV."`
}

// Validate checks the numbers.
func (c *benchInventory) Validate() error {
	if c.Rows < 1 {
		return errors.New("--rows must be above 0; nothing was measured")
	}
	return nil
}

// Run plans a made-up table, takes it in, and puts its cells into a table of the same kind of database as they are.
func (c *benchInventory) Run(ctx context.Context, on console) (err error) {
	fmt.Fprintf(on.out, "%s, %s/%s, %d cores. %s of %d rows and %d columns: planned with every problem, then taken in; beside it its cells, put into a table as they are.\n",
		runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.NumCPU(), c.form(), c.Rows, len(inventoryColumns))
	table, err := madeUpInventory(c.Rows)
	if err != nil {
		return err
	}
	if c.Postgres {
		return onOwnPostgres(ctx, "inventory", func(folder string, db *models.DB) error {
			return c.measure(ctx, on, folder, db, table, func() error {
				return db.LoadCSV(ctx, []models.CSVTable{{Name: "plain_cells", Columns: inventoryColumns, From: bytes.NewReader(table)}})
			})
		})
	}
	folder, err := os.MkdirTemp("", "revidit-inventory-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	db, err := models.Open(ctx, filepath.Join(folder, "revidit.sqlite"))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	if err := db.Migrate(ctx); err != nil {
		return err
	}
	return c.measure(ctx, on, folder, db, table, func() error { return plainRows(ctx, filepath.Join(folder, "plain.sqlite"), table) })
}

func (c *benchInventory) form() string {
	if c.Workbook {
		return "An XLSX workbook"
	}
	return "A CSV table"
}

// file is the table as it is sent.
func (c *benchInventory) file(table []byte) (name string, content []byte, err error) {
	if !c.Workbook {
		return "table.csv", table, nil
	}
	content, err = sheetOf(table)
	return "table.xlsx", content, err
}

func (c *benchInventory) measure(ctx context.Context, on console, folder string, db *models.DB, table []byte, plainly func() error) error {
	s := service.NewService(db, &blob.Mem{}, service.NewLibrary(diagnosis.All()...), service.Options{Arriving: folder})
	curator := review.Actor{Person: "bench", Name: "Bench", Role: review.RoleCurator}
	progress := newProgress(on, "Taking in")
	name, file, err := c.file(table)
	if err != nil {
		return err
	}
	began := time.Now()
	in, err := s.PlanInventory(ctx, curator, service.IntakeFile{Name: name, From: bytes.NewReader(file), Size: int64(len(file))}, nil)
	if err != nil {
		return err
	}
	planned := time.Since(began)
	job, err := s.AcceptIntake(ctx, curator, in.ID, in.Plan)
	if err != nil {
		return err
	}
	if err := s.Do(ctx, job, func(step service.JobStep) { progress(step.Done, step.Total) }); err != nil {
		return err
	}
	all := time.Since(began)
	began = time.Now()
	if err := plainly(); err != nil {
		return err
	}
	plain := time.Since(began)
	fmt.Fprintf(on.out, "%d specimens with %d determinations; of %d rows something is told, %d are left out. Planned in %.1f s, taken in in %.1f s; the cells as they are in %.2f s.\n",
		in.Told.Takes(), in.Told.Slips, in.Told.Faulty, in.Told.Refused, planned.Seconds(), (all - planned).Seconds(), plain.Seconds())
	fmt.Fprintf(on.out, "rows=%d seconds=%.1f ratio=%.1f\n", c.Rows, all.Seconds(), all.Seconds()/plain.Seconds())
	return nil
}

// plainRows puts the cells of a table into one of SQLite, in one transaction.
func plainRows(ctx context.Context, place string, table []byte) (err error) {
	db, err := sql.Open("sqlite", "file:"+place)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	names := `"` + strings.Join(inventoryColumns, `", "`) + `"`
	if _, err := tx.ExecContext(ctx, "CREATE TABLE plain_cells ("+names+")"); err != nil {
		return err
	}
	insert, err := tx.PrepareContext(ctx, "INSERT INTO plain_cells VALUES (?"+strings.Repeat(", ?", len(inventoryColumns)-1)+")") // #nosec G202 -- a number of question marks
	if err != nil {
		return err
	}
	rows := csv.NewReader(bytes.NewReader(table))
	for {
		row, err := rows.Read()
		if err == io.EOF {
			return tx.Commit()
		}
		if err != nil {
			return err
		}
		cells := make([]any, len(row))
		for i := range row {
			cells[i] = row[i]
		}
		if _, err := insert.ExecContext(ctx, cells...); err != nil {
			return err
		}
	}
}

var inventoryColumns = []string{"number", "family", "name", "det", "det_year", "det_2", "date", "country", "province", "locality", "coordinates", "elevation", "leg", "sex", "count", "remarks"}

// madeUpInventory is a table of an invented collection, the same each time. Of a row in ten something is to be told.
func madeUpInventory(rows int) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	if err := w.Write(inventoryColumns); err != nil {
		return nil, err
	}
	families := diagnosis.Default().Families
	people, months := []string{"A. Immergruen", "B. Lattich", "C. Wegerich & D. Sauerklee"}, []string{"iv", "v", "VI", "vii", "VIII"}
	for i := range rows {
		day, year := i%28+1, 1931+i%70
		date := fmt.Sprintf("%d.%s.%d", day, months[i%5], year)
		if i%10 == 0 {
			date = fmt.Sprintf("%d.%s.%02d", day, months[i%5], year%100)
		}
		cells := []string{fmt.Sprintf("OC-%06d", i), families[i%len(families)].Name, fmt.Sprintf("Exemplaria numero%c", 'a'+i%26), "det. " + people[i%3], fmt.Sprint(year + 5), "",
			date, "Austria", "Tirol", fmt.Sprintf("Hintertal, slope %d", i%900), fmt.Sprintf("47°%02d'%02d\"N 10°%02d'%02d\"E", i%60, i%59, i%57, i%53), fmt.Sprintf("%d m", 500+i%1500), people[i%2],
			[]string{"♂", "♀", ""}[i%3], "1", fmt.Sprintf("page %d of the old book", i/40)}
		if i%4 == 0 {
			cells[5] = fmt.Sprintf("E. Augentrost %d", year+20)
		}
		if err := w.Write(cells); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

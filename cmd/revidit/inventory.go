package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"revidit/review"
	"revidit/review/service"
)

type inventoryCommand struct {
	Import inventoryImport `cmd:"" help:"Tell what a table would bring, row by row with every problem, and with --accept take it in."`
	Undo   intakeUndo      `cmd:"" help:"Take back what an intake has brought, as one act."`
}

type inventoryImport struct {
	asCurator
	File      string            `arg:"" help:"Table to read: CSV or XLSX." type:"existingfile"`
	Accept    bool              `help:"Take in what can be taken in. Without it nothing is stored but the plan, which a curator may accept on its page."`
	Encoding  string            `help:"Encoding of a CSV file; else it is found out." placeholder:"NAME"`
	Separator string            `help:"What stands between the cells of a CSV file; else it is found out: comma, semicolon, tab or bar." enum:",comma,semicolon,tab,bar" default:"" placeholder:"NAME"`
	Sheet     string            `help:"Sheet of a workbook; else the first that can be seen." placeholder:"NAME"`
	Header    int               `help:"Row with the names of columns; -1: there is none; else it is found out." placeholder:"ROW"`
	Means     map[string]string `help:"What a column holds, by its letter: --means C=label.country. See the API for the words." placeholder:"LETTER=WORD"`
	Order     map[string]string `help:"What is first in dates such as 5/6/1987, by the letter of the column: --order D=day." placeholder:"LETTER=day|month"`
	Century   map[string]int    `help:"First of the hundred years in which two digits of a year lie: --century D=1925." placeholder:"LETTER=YEAR"`
	LetterO   map[string]string `help:"What O means in coordinates: --letter-o F=east." placeholder:"LETTER=east|west"`
}

var separatorsByName = map[string]string{"comma": ",", "semicolon": ";", "tab": "\t", "bar": "|"}

// Run plans, tells, and takes in what is accepted.
func (c *inventoryImport) Run(ctx context.Context, on console) error {
	return c.with(ctx, func(club club) error {
		i := intaking{club: club, on: on, undo: "revidit inventory undo", page: "its page (Old collection)"}
		return i.run(ctx, c.asCurator, c.File, c.Accept, func(ctx context.Context, actor review.Actor, file service.IntakeFile) (review.Intake, error) {
			wanted := &review.InventoryReading{Encoding: c.Encoding, Separator: separatorsByName[c.Separator], Sheet: c.Sheet, Header: c.Header}
			in, err := club.service.PlanInventory(ctx, actor, file, wanted)
			if err == nil && len(c.Means)+len(c.Order)+len(c.Century)+len(c.LetterO) > 0 {
				if wanted, err = c.answered(in.Reading); err == nil {
					in, err = club.service.ReadAgain(ctx, actor, in.ID, wanted)
				}
			}
			if err != nil {
				return in, err
			}
			tellReading(on.out, in.Reading)
			return in, nil
		})
	})
}

// answered is how the table was read, with what the command line says of its columns.
func (c *inventoryImport) answered(found *review.InventoryReading) (*review.InventoryReading, error) {
	asked := *found
	column := func(letter string) (*review.InventoryColumn, error) {
		for i := range asked.Columns {
			if asked.Columns[i].Letter == strings.ToUpper(letter) {
				return &asked.Columns[i], nil
			}
		}
		return nil, fmt.Errorf("the table has no column %s; nothing was taken in", letter)
	}
	set := func(letter string, change func(*review.InventoryColumn)) error {
		col, err := column(letter)
		if err == nil {
			change(col)
		}
		return err
	}
	for letter, word := range c.Means {
		if err := set(letter, func(col *review.InventoryColumn) { col.Means = review.Meaning(word) }); err != nil {
			return nil, err
		}
	}
	for letter, word := range c.Order {
		if err := set(letter, func(col *review.InventoryColumn) { col.Order = review.DateOrder(word) }); err != nil {
			return nil, err
		}
	}
	for letter, year := range c.Century {
		if err := set(letter, func(col *review.InventoryColumn) { col.Century = year }); err != nil {
			return nil, err
		}
	}
	for letter, word := range c.LetterO {
		if err := set(letter, func(col *review.InventoryColumn) { col.East = word }); err != nil {
			return nil, err
		}
	}
	return &asked, nil
}

// tellReading says how a table was read, and what is to be answered.
func tellReading(out io.Writer, r *review.InventoryReading) {
	if r.Sheet != "" {
		fmt.Fprintf(out, "Sheet %s of %s.\n", r.Sheet, strings.Join(r.Sheets, ", "))
	} else {
		fmt.Fprintf(out, "Read as %s, cells cut at %q.\n", r.Encoding, r.Separator)
	}
	for i := range r.Columns {
		col := &r.Columns[i]
		why := ""
		if col.Why != "" {
			why = ", by " + string(col.Why)
		}
		fmt.Fprintf(out, "  %-3s %s: %s%s\n", col.Letter, col.Name, col.Means, why)
		if d := col.Dates; d != nil && d.Either > 0 && col.Order == "" {
			fmt.Fprintf(out, "      day or month first? %d %s can be read both ways (--order %s=day or =month)\n", d.Either, plural(d.Either, "date", "dates"), col.Letter)
		}
		if d := col.Dates; d != nil && d.TwoDigits > 0 && col.Century == 0 {
			fmt.Fprintf(out, "      which century? %d %s of two digits (--century %s=YEAR)\n", d.TwoDigits, plural(d.TwoDigits, "year", "years"), col.Letter)
		}
		if col.LettersO > 0 && col.East == "" {
			fmt.Fprintf(out, "      O is east or west? (--letter-o %s=east or =west)\n", col.Letter)
		}
	}
}

package main

import (
	"bufio"
	"fmt"
	"io/fs"
	"os"

	"revidit/review"
	"revidit/review/diagnosis"
)

// tablesFlag chooses the diagnosis tables of a command.
type tablesFlag struct {
	Tables string `help:"Folder of diagnosis tables in place of the built-in ones." type:"existingdir" placeholder:"DIR" env:"REVIDIT_TABLES"`
}

func (f tablesFlag) files() fs.FS {
	if f.Tables != "" {
		return os.DirFS(f.Tables)
	}
	return diagnosis.Files()
}

// judge loads the tables; broken ones are an error that names the first problem and the command that lists all.
func (f tablesFlag) judge() (*review.Judge, error) {
	tables, problems := diagnosis.Load(f.files())
	if len(problems) > 0 {
		return nil, fmt.Errorf("the diagnosis tables have %d problems, the first: %s. Run revidit lint to see all of them", len(problems), problems[0])
	}
	return review.NewJudge(tables), nil
}

type lintCommand struct{ tablesFlag }

// Run prints every problem, and ends with code 1 where there are any.
func (c *lintCommand) Run(io console) error {
	if runLint(c.files(), io.out) > 0 {
		return exitError{1}
	}
	return nil
}

type assessCommand struct{ tablesFlag }

// Run assesses line by line, and ends with code 1 when a line could not be read.
func (c *assessCommand) Run(io console) error {
	judge, err := c.judge()
	if err != nil {
		return err
	}
	out := bufio.NewWriter(io.out)
	bad, err := runAssess(io.in, out, judge)
	if flushed := out.Flush(); err == nil {
		err = flushed
	}
	if err != nil {
		return err
	}
	if bad > 0 {
		fmt.Fprintf(io.err, "revidit: %d %s could not be assessed; the errors stand in the output\n", bad, plural(bad, "line", "lines"))
		return exitError{1}
	}
	return nil
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

package main

import (
	"fmt"
	"io"
	"io/fs"

	"revidit/review/diagnosis"
)

// runLint prints every problem of the tables in a folder, as file:line: message, and a summary. It returns how many
// there are.
func runLint(fsys fs.FS, out io.Writer) (problems int) {
	tables, found := diagnosis.Load(fsys)
	if tables != nil {
		found = append(found, tables.Lint()...)
	}
	for _, p := range found {
		fmt.Fprintln(out, p)
	}
	if len(found) > 0 {
		fmt.Fprintf(out, "%d %s\n", len(found), plural(len(found), "problem", "problems"))
		return len(found)
	}
	fmt.Fprintf(out, "%s, release %s: %d families, %d characters, no problem; hash %s\n",
		tables.Group.ID, tables.Group.Release, len(tables.Families), len(tables.Characters), tables.Hash)
	return 0
}

package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

// oldRegister is the table of an invented collection: a day or a month first, a century, and a number that stands twice are
// to be told.
var oldRegister = [][]any{
	{"number", "family", "det", "date", "country", "locality", "leg"},
	{"OC-1", "Carabidae", "det. A. Lattich", "5/6/1931", "Austria", "Hintertal", "B. Wegerich"},
	{"OC-2", "Elateridae", "", "14.v.31", "Austria", "Hintertal", "B. Wegerich"},
	{"OC-2", "Elateridae", "", "15.v.1931", "Austria", "Hintertal", "B. Wegerich"},
	{"OC-3", "Buprestidae", "", "VI.1932", "Austria", "Hintertal", "B. Wegerich"},
}

// asCSV writes a table as a spreadsheet of Central Europe does.
func asCSV(t *testing.T, name string, table [][]any) string {
	t.Helper()
	var text strings.Builder
	for _, row := range table {
		for i, cell := range row {
			if i > 0 {
				text.WriteString(";")
			}
			text.WriteString(cell.(string))
		}
		text.WriteString("\r\n")
	}
	file := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(file, []byte(text.String()), 0o600))
	return file
}

func asWorkbook(t *testing.T, name string, table [][]any) string {
	t.Helper()
	f := excelize.NewFile()
	for i, row := range table {
		at, err := excelize.CoordinatesToCellName(1, i+1)
		require.NoError(t, err)
		require.NoError(t, f.SetSheetRow("Sheet1", at, &row))
	}
	file := filepath.Join(t.TempDir(), name)
	require.NoError(t, f.SaveAs(file))
	require.NoError(t, f.Close())
	return file
}

// dumped is everything that is made of events.
func dumped(t *testing.T, data string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "dump.jsonl")
	output(t, "dump", "--data", data, file)
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	return string(text)
}

var undoID = regexp.MustCompile(`revidit inventory undo ([0-9a-f-]+)`)

// TestInventory: a table is told with every problem and nothing of it stored; what is answered and accepted is taken in, from CSV and from
// a workbook; and it is taken back as one act.
func TestInventory(t *testing.T) {
	t.Parallel()
	data := newClub(t)
	inventory := func(args ...string) ran {
		return runHere(t, "", append([]string{"inventory", args[0], "--data", data, "--as", "curator"}, args[1:]...)...)
	}
	table := asCSV(t, "register.csv", oldRegister)

	told := inventory("import", table)
	require.Zero(t, told.code, told.err)
	require.Contains(t, told.out, "cells cut at \";\"")
	require.Contains(t, told.out, "day or month first? 1 date can be read both ways (--order D=day or =month)")
	require.Contains(t, told.out, "which century? 1 year of two digits (--century D=YEAR)")
	require.Contains(t, told.out, "4 rows; ")
	require.Contains(t, told.out, "row 4, number")
	require.Contains(t, told.out, "Nothing was taken in. Accept it with --accept")
	require.NotContains(t, dumped(t, data), "OC-1", "a plan is of no event")

	answered := []string{"import", "--accept", "--order", "d=day", "--century", "D=1901"}
	first := inventory(append(answered, table)...)
	require.Zero(t, first.code, first.err)
	require.NotContains(t, first.out, "day or month first?")
	require.Regexp(t, `\b3 specimens were taken in`, first.out)
	id := undoID.FindStringSubmatch(first.out)
	require.NotNil(t, id, first.out)
	dump := dumped(t, data)
	require.Contains(t, dump, "OC-1")
	require.Contains(t, dump, "1931-06-05", "5/6 with the day first")
	require.Contains(t, dump, "1931-05-14", "the year 31 of the hundred years from 1901")

	again := inventory(append(answered, table)...)
	require.Equal(t, 1, again.code)
	require.Contains(t, again.err, "There is no row that could be taken in. Nothing was changed.", "their numbers are here already")

	require.Contains(t, inventory("undo", id[1]).err, "--reason", "it is told why")
	undone := inventory("undo", "--reason", "another register", id[1])
	require.Zero(t, undone.code, undone.err)
	require.Contains(t, undone.out, "The intake was undone; 0 specimens were left")
	twice := inventory("undo", "--reason", "once more", id[1])
	require.Equal(t, 1, twice.code)
	require.Contains(t, twice.err, "Only what was taken in wholly can be taken back. Nothing was changed.")

	book := inventory(append(answered, asWorkbook(t, "register.xlsx", oldRegister))...)
	require.Zero(t, book.code, book.err)
	require.Contains(t, book.out, "Sheet Sheet1 of Sheet1.")
	require.Regexp(t, `\b3 specimens were taken in`, book.out, "what was taken back may come again")
}

// TestInventoryOfWrongInput: each says what is wrong, and nothing is taken in.
func TestInventoryOfWrongInput(t *testing.T) {
	t.Parallel()
	data := newClub(t)
	table := asCSV(t, "register.csv", oldRegister)
	noWorkbook := filepath.Join(t.TempDir(), "broken.xlsx")
	require.NoError(t, os.WriteFile(noWorkbook, []byte("PK\x03\x04 and no more"), 0o600))
	empty := filepath.Join(t.TempDir(), "empty.csv")
	require.NoError(t, os.WriteFile(empty, nil, 0o600))
	before := dumped(t, data)
	for name, c := range map[string]struct {
		args []string
		code int
		says string
	}{
		"no such file":       {[]string{"import", "--as", "curator", filepath.Join(t.TempDir(), "nothing.csv")}, 2, "nothing.csv"},
		"no curator":         {[]string{"import", "--as", "member", table}, 1, "curator"},
		"nobody":             {[]string{"import", "--as", "nobody", table}, 1, "nobody"},
		"no such column":     {[]string{"import", "--as", "curator", "--order", "Z=day", table}, 1, "the table has no column Z"},
		"no such meaning":    {[]string{"import", "--as", "curator", "--means", "A=colour", table}, 1, "columns.0.means: is nothing that a column can hold"},
		"no such order":      {[]string{"import", "--as", "curator", "--order", "D=year", table}, 1, "columns.3.order: must be day, month or empty"},
		"no such separator":  {[]string{"import", "--as", "curator", "--separator", "dash", table}, 2, "--separator"},
		"no number":          {[]string{"import", "--as", "curator", "--century", "D=old", table}, 2, "old"},
		"not a workbook":     {[]string{"import", "--as", "curator", noWorkbook}, 1, "workbook"},
		"nothing in it":      {[]string{"import", "--as", "curator", empty}, 1, "it holds no row"},
		"no such intake":     {[]string{"undo", "--as", "curator", "--reason", "x", "none"}, 1, "There is no such intake"},
		"undone by a member": {[]string{"undo", "--as", "member", "--reason", "x", "none"}, 1, "curator"},
	} {
		t.Run(name, func(t *testing.T) {
			args := append([]string{"inventory", c.args[0], "--data", data}, c.args[1:]...)
			got := runHere(t, "", args...)
			require.Equal(t, c.code, got.code, got.out+got.err)
			require.Contains(t, got.err, c.says)
		})
	}
	require.Equal(t, before, dumped(t, data))
}

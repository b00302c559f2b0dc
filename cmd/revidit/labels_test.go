package main

import (
	database "database/sql"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/models/modelstest"
)

// TestLabels: labels are told without printing, printed into a new file once, and again only where that is wanted.
func TestLabels(t *testing.T) {
	t.Parallel()
	data := newClub(t)
	number := withLives(t, data)
	folder := t.TempDir()
	file := filepath.Join(folder, "sheet.pdf")
	labels := func(more ...string) ran {
		return runHere(t, "", append([]string{"labels", "--data", data, "--as", "curator", "--set", "catalogue", number}, more...)...)
	}

	told := labels()
	require.Zero(t, told.code, told.err)
	require.Contains(t, told.out, number)
	require.NotContains(t, told.out, "printed before")

	first := labels("--out", file)
	require.Zero(t, first.code, first.err)
	require.Contains(t, first.out, "1 pieces of 1 labels")
	pdf, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, "%PDF-", string(pdf[:5]))

	twice := labels("--out", file)
	require.Equal(t, 1, twice.code)
	require.Contains(t, twice.err, "there is no label to print")
	require.Contains(t, twice.out, "--again prints it once more")
	taken := labels("--again", "--out", file)
	require.Equal(t, 1, taken.code)
	require.Contains(t, taken.err, "is there already and was left as it is")
	other := filepath.Join(folder, "again.pdf")
	again := labels("--again", "--copies", "3", "--out", other)
	require.Zero(t, again.code, again.err)
	require.Contains(t, again.out, "3 pieces of 1 labels")

	unknown := runHere(t, "", "labels", "--data", data, "--as", "curator", "--set", "locality", "--language", "de", "no such number")
	require.Zero(t, unknown.code, unknown.err)
	require.Contains(t, unknown.err, "no such number: no label")
	require.Equal(t, 2, labels("--copies", "0").code)
}

// withLives lets things happen in a club, and returns the catalogue number of a specimen.
func withLives(t *testing.T, data string) (number string) {
	t.Helper()
	db := openClub(t, data)
	modelstest.Live(t, db, 5, 6)
	require.NoError(t, db.Close())
	file, err := database.Open("sqlite", filepath.Join(data, "revidit.sqlite"))
	require.NoError(t, err)
	defer file.Close()
	const one = "SELECT catalogue_number FROM specimens WHERE catalogue_number <> '' AND id IN (SELECT specimen_id FROM submissions) ORDER BY id LIMIT 1"
	require.NoError(t, file.QueryRowContext(t.Context(), one).Scan(&number))
	return number
}

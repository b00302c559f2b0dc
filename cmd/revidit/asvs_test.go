package main

import (
	"encoding/csv"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// verification is a row of deploy/ASVS.md.
type verification struct{ number, level, asks, state, by string }

func verifications(t *testing.T) (rows []verification) {
	t.Helper()
	page, err := os.ReadFile("../../deploy/ASVS.md")
	require.NoError(t, err)
	for line := range strings.Lines(string(page)) {
		cells := strings.Split(strings.Trim(strings.TrimSpace(line), "|"), "|")
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		if regexp.MustCompile(`^\d+\.\d+\.\d+$`).MatchString(cells[0]) {
			require.Len(t, cells, 5, line)
			rows = append(rows, verification{cells[0], cells[1], cells[2], cells[3], cells[4]})
		}
	}
	return rows
}

// TestVerificationTable: every requirement of levels 1 and 2 of the OWASP ASVS 5.0.0 has its row, in the order of the standard
// (testdata/asvs); every row that is met names a test or a file, and every test and file that is named is there.
func TestVerificationTable(t *testing.T) {
	list, err := os.Open("testdata/asvs/requirements.csv")
	require.NoError(t, err)
	defer list.Close()
	standard, err := csv.NewReader(list).ReadAll()
	require.NoError(t, err)
	var asked, told [][2]string
	for _, row := range standard[1:] {
		if row[1] != "3" {
			asked = append(asked, [2]string{row[0], row[1]})
		}
	}
	require.Len(t, asked, 253)
	tests := testsOfTheProject(t)
	for _, row := range verifications(t) {
		told = append(told, [2]string{row.number, row.level})
		require.Contains(t, []string{"met", "n/a", "open"}, row.state, row.number)
		require.NotEmpty(t, row.asks, row.number)
		require.NotEmpty(t, row.by, row.number)
		named := regexp.MustCompile("`([^`]+)`").FindAllStringSubmatch(row.by, -1)
		shown := 0
		for _, name := range named {
			switch {
			case regexp.MustCompile(`^(Test|Fuzz)[A-Z]`).MatchString(name[1]):
				require.Contains(t, tests, name[1], row.number)
				shown++
			case strings.Contains(name[1], ".") && !strings.Contains(name[1], " "):
				_, err := os.Stat(filepath.Join("../..", name[1]))
				if name[1] == "token.key" {
					continue
				}
				require.NoError(t, err, row.number)
				shown++
			}
		}
		if row.state == "met" && !strings.Contains(row.by, "keeper") && !strings.Contains(row.by, "below") && !strings.Contains(row.by, "as above") && !regexp.MustCompile(`as \d`).MatchString(row.by) {
			require.Positive(t, shown, "%s is met by nothing that can be looked up", row.number)
		}
	}
	require.Equal(t, asked, told)
}

// testsOfTheProject are the names of all tests and fuzz targets.
func testsOfTheProject(t *testing.T) map[string]bool {
	t.Helper()
	found := map[string]bool{}
	declared := regexp.MustCompile(`(?m)^func ((?:Test|Fuzz)\w+)\(`)
	require.NoError(t, filepath.WalkDir("../..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		for _, name := range declared.FindAllStringSubmatch(string(text), -1) {
			found[name[1]] = true
		}
		return err
	}))
	return found
}

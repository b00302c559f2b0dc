package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

func TestLintBuiltInTables(t *testing.T) {
	for _, folder := range diagnosis.Folders() {
		var out bytes.Buffer
		tables, problems := runLint(diagnosis.Files(folder), &out)
		require.Zero(t, problems, out.String())
		require.Equal(t, fmt.Sprintf("%s, release %s: %d %s, %d characters, no problem; hash %s\n", tables.Group.ID, tables.Group.Release,
			len(tables.Families), map[string]string{"family": "families", "order": "orders"}[tables.Group.Rank], len(tables.Characters), tables.Hash), out.String())
	}
}

func TestLintBadTables(t *testing.T) {
	var out bytes.Buffer
	files := fstest.MapFS{"group.yaml": {Data: []byte("group: x\nspecies: 3\n")}}
	tables, problems := runLint(files, &out)
	require.Nil(t, tables)
	lines := strings.Split(strings.TrimSpace(out.String()), "\n")
	require.Greater(t, problems, 1)
	require.Len(t, lines, problems+1)
	require.Contains(t, out.String(), "group.yaml:2: ")
	require.Regexp(t, `^\d+ problems$`, lines[problems])
}

// smallTables are three families: two that only their length tells apart, and one that is far from both.
func smallTables(t *testing.T, inseparable string) (dir string) {
	t.Helper()
	const family = "family: %s\nsuperfamily: x\ncommon: x\nspecies: %d\nspecies_source: made up\nsource: book\nplace: here\nbasis: memory\n" +
		"characters:\n  length-mm: {length: {min: 1, usual: [%d, %d], max: 90}}\n  horn: {states: {%s: always}, place: page 1, basis: read}\n%s"
	dir = t.TempDir()
	for name, content := range map[string]string{
		"group.yaml": "group: small\ntitle: x\ntaxon: x\nrank: family\nrelease: \"1\"\nbetter_fit_decibans: 10\ncautions: [x]\nviews: [{id: above, label: x, part: entireOrganism, orientation: dorsal}]\n",
		"characters.yaml": "characters:\n  - {id: length-mm, label: x, region: body, kind: length, how: x, views: [above], min: 0.5, max: 100}\n" +
			"  - {id: horn, label: x, region: head, kind: states, how: x, views: [above], states: [{id: one, label: x, hint: x}, {id: two, label: x, hint: x}]}\n",
		"sources.yaml":        "sources: [{id: book, citation: x}, {id: other, citation: x}]\n",
		"families/Aidae.yaml": fmt.Sprintf(family, "Aidae", 30, 2, 10, "one", inseparable),
		"families/Bidae.yaml": fmt.Sprintf(family, "Bidae", 20, 3, 12, "one", ""),
		"families/Cidae.yaml": fmt.Sprintf(family, "Cidae", 10, 60, 80, "two", ""),
	} {
		require.NoError(t, os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(content), 0o644))
	}
	return dir
}

func lint(t *testing.T, args ...string) (code int, out, problems string) {
	t.Helper()
	var stdout, stderr bytes.Buffer
	code = run(context.Background(), append([]string{"lint"}, args...), console{in: strings.NewReader(""), out: &stdout, err: &stderr})
	return code, stdout.String(), stderr.String()
}

func TestLintSources(t *testing.T) {
	code, out, _ := lint(t, "--tables", smallTables(t, ""), "--sources")
	require.Zero(t, code)
	_, report, _ := strings.Cut(out, "\n")
	require.Equal(t, `6 cells: 50.0 % read in the source, 0.0 % read there in part, 50.0 % cited from memory
Cells by source:
      6  book
      0  other
Families with fewer than 12 characters:
      2  Aidae
      2  Bidae
      2  Cidae
Characters known for fewer than 10 families:
      3  horn
      3  length-mm
`, report)
}

func TestLintPairs(t *testing.T) {
	dir := smallTables(t, "")
	code, out, _ := lint(t, "--tables", dir, "--pairs")
	require.Zero(t, code, "without --strict a pair is no problem")
	lines := strings.Split(strings.TrimSpace(out), "\n")
	require.Len(t, lines, 4, out)
	require.Regexp(t, `^Aidae – Bidae 0\.[5-9]\d\d ± 0\.00\d, from above 0\.[5-9]\d\d ± 0\.00\d; best single characters: length-mm \(0\.\d\d bits\); would help most: `, lines[1])
	require.Regexp(t, `^From above: what a member tells by (horn, length-mm|length-mm, horn) in photos of the upper side$`, lines[2])
	require.Equal(t, "1 of 3 pairs of 3 families stay below 0.95, 1 of them without an explanation", lines[3])
	_, again, _ := lint(t, "--tables", dir, "--pairs")
	require.Equal(t, out, again)
}

func TestLintStrictPairs(t *testing.T) {
	const explained = "inseparable:\n  - {family: Bidae, because: Only the length differs., needs: a dissection}\n"
	for _, test := range []struct {
		name, inseparable string
		args              []string
		code              int
		says              string
	}{
		{"unexplained", "", []string{"--pairs", "--strict"}, 1, "1 of them without an explanation"},
		{"explained", explained, []string{"--pairs", "--strict"}, 0, "would help most: a dissection (explained)"},
		{"only the largest", "", []string{"--pairs", "--strict", "--largest", "1"}, 0, "0 of 0 pairs of 1 families"},
		{"more than there are", "", []string{"--pairs", "--strict", "--largest", "60"}, 1, "1 of 3 pairs of 3 families"},
	} {
		t.Run(test.name, func(t *testing.T) {
			code, out, _ := lint(t, append([]string{"--tables", smallTables(t, test.inseparable)}, test.args...)...)
			require.Equal(t, test.code, code, out)
			require.Contains(t, out, test.says)
		})
	}
}

func TestLintRefusesFlagsThatWouldDoNothing(t *testing.T) {
	for _, args := range [][]string{{"--strict"}, {"--largest", "5"}, {"--pairs", "--largest=-1"}} {
		code, out, problems := lint(t, args...)
		require.Equal(t, 2, code)
		require.Empty(t, out)
		require.Regexp(t, `--(pairs|largest)`, problems)
	}
}

package main

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// readTable is a table of an archive as Python has read it.
type readTable struct {
	Type    string
	Widths  []int
	Columns int
	Rows    []map[string]string
}

// TestTheArchiveOfTheDemoIsReadByOthers: the archive of the made-up club follows the published schema of the Darwin Core text guide (by
// xmllint), and is read with Python's zipfile, csv and xml.etree, none of which is ours. Its rows belong together, one identification of
// each occurrence is the accepted one at most, and what is published has its photos with their licence.
func TestTheArchiveOfTheDemoIsReadByOthers(t *testing.T) {
	t.Parallel()
	w := madeUp.serve(t)
	asked, err := http.NewRequest(http.MethodGet, w.base+"/api/v1/archive?title=Beetles&organization=Quernholm&license=https://creativecommons.org/licenses/by/4.0/&media=true", nil)
	require.NoError(t, err)
	asked.AddCookie(w.cookie(t, "odile"))
	answer, err := http.DefaultClient.Do(asked)
	require.NoError(t, err)
	defer answer.Body.Close()
	require.Equal(t, http.StatusOK, answer.StatusCode)
	file := filepath.Join(t.TempDir(), "archive.zip")
	data, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(file, data, 0o600))

	archive, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	meta, err := archive.Open("meta.xml")
	require.NoError(t, err)
	defer meta.Close()
	check := exec.Command("xmllint", "--nonet", "--noout", "--schema", "../../review/darwincore/testdata/darwin_core/tdwg_dwc_text.xsd", "-")
	check.Stdin = meta
	said, err := check.CombinedOutput()
	require.NoError(t, err, "%s", said)

	told, err := exec.Command("python3", "testdata/archive/read.py", file).CombinedOutput()
	require.NoError(t, err, "%s", told)
	var read struct {
		Files      []string
		Core       readTable
		Extensions []readTable
		Title      string
		Licence    string
	}
	require.NoError(t, json.Unmarshal(told, &read))
	require.Equal(t, "Beetles", read.Title)
	require.Contains(t, read.Licence, "creativecommons.org/licenses/by/4.0")
	require.Equal(t, "http://rs.tdwg.org/dwc/terms/Occurrence", read.Core.Type)
	require.Greater(t, len(read.Core.Rows), 20)
	occurrences := map[string]bool{}
	for _, row := range read.Core.Rows {
		require.False(t, occurrences[row["id"]], "an id stands twice")
		occurrences[row["id"]] = true
	}
	accepted, media := map[string]int{}, 0
	for _, table := range append(read.Extensions, read.Core) {
		require.Equal(t, []int{table.Columns}, table.Widths, table.Type)
		for _, row := range table.Rows {
			require.True(t, occurrences[row["id"]], "%s belongs to nothing", row)
			if table.Type != read.Core.Type && row["http://rs.tdwg.org/dwc/terms/isAcceptedIdentification"] == "true" { // the core repeats it
				accepted[row["id"]]++
			}
			if strings.Contains(strings.ToLower(table.Type), "multimedia") && strings.Contains(row["id"], w.id["published"]) {
				media++
			}
		}
	}
	require.Greater(t, len(accepted), 20)
	for id, n := range accepted {
		require.Equal(t, 1, n, id)
	}
	require.Positive(t, media, "what is published has its photos there")
}

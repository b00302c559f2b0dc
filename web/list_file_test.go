package web

import (
	"encoding/csv"
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// What a spreadsheet takes for a formula begins with one of these (OWASP, CSV Injection, read from memory).
func TestCellsAreNoFormulas(t *testing.T) {
	for _, text := range []string{"=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"} {
		require.Equal(t, "'"+text, cellText(text))
	}
	require.Equal(t, "Ada = Bea", cellText("Ada = Bea"))
	require.Equal(t, "", cellText(""))
	require.Equal(t, "-0.5", cellText(-0.5), "a number is none")
}

// TestListsAreFiles: a list as a file holds what the page holds, and tells no more.
func TestListsAreFiles(t *testing.T) {
	c := newAPIClub(t)
	c.submitted()
	lines, err := csv.NewReader(strings.NewReader(string(c.call("rita", http.MethodGet, "/submissions?as=csv", nil).is(http.StatusOK).body))).ReadAll()
	require.NoError(t, err)
	require.Len(t, lines, 2)
	require.Equal(t, submissionColumns, lines[0])
	require.Len(t, lines[1], len(submissionColumns))
	cell := func(name string) string {
		for i, column := range lines[0] {
			if column == name {
				return lines[1][i]
			}
		}
		return "no such column"
	}
	require.Equal(t, "open", cell("status"))
	require.Equal(t, "true", cell("sealed"))
	require.Empty(t, cell("confidence"), "it would tell what others have said")
	require.Empty(t, cell("contradictions"))
	var whole struct {
		Items []map[string]any
		More  bool
	}
	require.NoError(t, json.Unmarshal([]byte(string(c.call("rita", http.MethodGet, "/submissions?as=json", nil).is(http.StatusOK).body)), &whole))
	require.Len(t, whole.Items, 1)
	require.False(t, whole.More)
}

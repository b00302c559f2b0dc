package web

import (
	"encoding/csv"
	"net/http"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
)

// readCSV returns the rows of a file in testdata, whose README names the sources, without its heading.
func readCSV(t testing.TB, name string) [][]string {
	t.Helper()
	file, err := os.Open("testdata/" + name)
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(rows), 1)
	return rows[1:]
}

func tagOf(t testing.TB, text string) entityTag {
	t.Helper()
	tag, rest, ok := cutTag(text)
	require.True(t, ok, text)
	require.Empty(t, rest)
	require.Equal(t, text, tag.String())
	return tag
}

// RFC 9110 section 8.8.3.2.
func TestPublishedComparisonOfTags(t *testing.T) {
	for _, row := range readCSV(t, "etag_comparison.csv") {
		one, two := tagOf(t, row[0]), tagOf(t, row[1])
		require.Equal(t, row[2] == "match", one.strongly(two), "strong: %v", row)
		require.Equal(t, row[3] == "match", one.weakly(two), "weak: %v", row)
	}
}

// RFC 9110 sections 13.1.1, 13.1.2 and 13.2.2.
func TestPublishedPreconditions(t *testing.T) {
	for _, row := range readCSV(t, "preconditions.csv") {
		t.Run(row[0], func(t *testing.T) {
			var current []entityTag
			if row[2] != "" {
				current = append(current, tagOf(t, row[2]))
			}
			headers := headersIn(row[3])
			got, err := precondition(row[1], headers["If-Match"], headers["If-None-Match"], current...)
			require.NoError(t, err)
			want := map[string]outcome{"perform": perform, "200": perform, "304": notModified, "412": failed,
				// This service does not demand a precondition.
				"428 if the service demands it": perform}
			require.Contains(t, want, row[4])
			require.Equal(t, want[row[4]], got)
		})
	}
}

// headersIn reads "Name: value + Name: value"; "old If-Unmodified-Since" is no header of ours.
func headersIn(text string) map[string]string {
	headers := map[string]string{}
	for _, part := range strings.Split(text, " + ") {
		if name, value, ok := strings.Cut(part, ": "); ok {
			headers[name] = value
		}
	}
	return headers
}

// RFC 9110 section 13.2.2: steps 2, 4 and 5 are about dates and ranges, which this service does not use.
func TestPublishedOrderOfPreconditions(t *testing.T) {
	steps := map[string][]string{}
	for _, row := range readCSV(t, "precondition_order.csv") {
		steps[row[0]] = row
	}
	current := entityTag{opaque: "now"}
	require.Equal(t, "412 unless already done", steps["1"][3])
	got, err := precondition(http.MethodGet, `"old"`, `"now"`, current)
	require.NoError(t, err)
	require.Equal(t, failed, got, "step 1 comes before step 3")
	require.Equal(t, "304 for GET/HEAD, else 412", steps["3"][3])
	for method, want := range map[string]outcome{http.MethodGet: notModified, http.MethodHead: notModified, http.MethodPut: failed, http.MethodPost: failed, http.MethodDelete: failed} {
		got, err := precondition(method, `"now"`, `"now"`, current)
		require.NoError(t, err)
		require.Equal(t, want, got, method)
	}
	require.Equal(t, "perform", steps["6"][2])
	got, err = precondition(http.MethodPut, "", "", current)
	require.NoError(t, err)
	require.Equal(t, perform, got)
}

func TestParseTags(t *testing.T) {
	list, err := parseTags("If-Match", ` , "a" ,, W/"b,c" , "" `)
	require.NoError(t, err)
	require.Equal(t, []entityTag{{opaque: "a"}, {weak: true, opaque: "b,c"}, {}}, list.tags)
	none, err := parseTags("If-Match", "  ")
	require.NoError(t, err)
	require.Nil(t, none)
	for _, bad := range []string{"7", `"7`, `7"`, `w/"7"`, `"a" "b"`, `"a", *`, `*, "a"`, ",", `"a b"`, "\"a\x7f\"", `W/7`, `""x`} {
		_, err := parseTags("If-Match", bad)
		require.Equal(t, review.KindInvalid, review.KindOf(err), bad)
	}
}

func TestViewTagChangesWithTheView(t *testing.T) {
	one, err := viewTag(7, map[string]string{"name": "Ada"})
	require.NoError(t, err)
	two, err := viewTag(7, map[string]string{"name": "(name erased)"})
	require.NoError(t, err)
	require.False(t, one.strongly(two))
	require.False(t, one.strongly(versionTag(7)))
	_, _, ok := cutTag(one.String())
	require.True(t, ok)
}

package web

import (
	"encoding/csv"
	"net/http"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

// table is a table of a page as CSV, with its head.
func (c *apiClub) table(who, path string) [][]string {
	c.t.Helper()
	r := c.call(who, http.MethodGet, path, nil).is(http.StatusOK)
	require.Contains(c.t, r.header.Get("Content-Type"), "text/csv")
	lines, err := csv.NewReader(strings.NewReader(string(r.body))).ReadAll()
	require.NoError(c.t, err)
	return lines
}

// column are the cells below the head of one column.
func column(t testing.TB, lines [][]string, name string) (cells []string) {
	t.Helper()
	at := -1
	for i, head := range lines[0] {
		if head == name {
			at = i
		}
	}
	require.GreaterOrEqual(t, at, 0, "no column %s", name)
	for _, line := range lines[1:] {
		cells = append(cells, line[at])
	}
	return cells
}

// TestDossierTellsNoMoreThanThePages: what is sealed from somebody is sealed on the one page, too, and in its tables.
func TestDossierTellsNoMoreThanThePages(t *testing.T) {
	t.Parallel()
	club := newAPIClub(t)
	v := club.submitted()
	specimen := "/specimens/" + v.Submission.Specimen
	note := "seen by Rita alone"
	_, err := club.server.Service.Review(t.Context(), club.as("rita"), v.Submission.ID, service.AnyVersion, review.ReviewForm{
		Verdicts: []review.VerdictForm{{Observation: v.Submission.Cites[0], Kind: review.VerdictDispute, Better: "6", Note: note}}})
	require.NoError(t, err)
	require.Contains(t, club.page("cora", specimen, 200), specimen+"/dossier")
	for who, sees := range map[string]bool{"ada": true, "rita": true, "ben": false, "rolf": false, "cora": false} {
		text := club.page(who, specimen+"/dossier", 200)
		require.Equal(t, sees, strings.Contains(text, note), who)
		said := column(t, club.table(who, specimen+"/dossier?as=csv&table=characters"), "note")
		require.Equal(t, sees, strings.Contains(strings.Join(said, " "), note), who)
		history := club.table(who, specimen+"/dossier?as=csv&table=history")
		require.Equal(t, sees, strings.Contains(strings.Join(column(t, history, "change"), " "), note), who)
		last := 0
		for _, position := range column(t, history, "position") {
			at, err := strconv.Atoi(position)
			require.NoError(t, err)
			require.Greater(t, at, last, "in the order of the log, each once")
			last = at
		}
		require.Positive(t, last)
	}
	d := decoded[struct{ Submissions []struct{ Sealed bool } }](club.call("rolf", http.MethodGet, "/api/v1"+specimen+"/dossier", nil).is(http.StatusOK))
	require.Len(t, d.Submissions, 1)
	require.True(t, d.Submissions[0].Sealed)
	club.page("rolf", specimen+"/dossier?as=csv&table=secrets", 400)
	club.page("rolf", "/specimens/none/dossier", 404)
}

// TestReportsOnWhatWasSettled: each determination of the period stands in one group, with the rank that is sure.
func TestReportsOnWhatWasSettled(t *testing.T) {
	t.Parallel()
	club := figuresClub(t)
	id := club.wholeWay("5", "6")
	club.submitted()
	year := strconv.Itoa(time.Now().UTC().Year())
	for _, by := range service.AllSettledBy {
		r := decoded[service.SettledReport](club.call("cora", http.MethodGet, "/api/v1/reports/determinations?by="+string(by), nil).is(http.StatusOK))
		require.Equal(t, 1, r.Confirmed)
		require.False(t, r.Cut)
		require.Len(t, r.Groups, 1)
		line := r.Groups[0].Lines[0]
		require.Equal(t, id, line.ID)
		require.Equal(t, review.Rank("family"), line.Sure)
		text := club.page("cora", "/reports/determinations?by="+string(by), 200)
		require.Contains(t, text, "/submissions/"+id)
		lines := club.table("cora", "/reports/determinations?as=csv&by="+string(by))
		require.Equal(t, []string{id}, column(t, lines, "submission"))
	}
	require.NotContains(t, club.page("cora", "/reports/determinations?to=2001-12-31", 200), "/submissions/"+id)
	require.Contains(t, club.page("cora", "/reports/determinations?by=trip", 400), "family, person, drawer")
	club.page("rita", "/reports/determinations", 403)

	r := decoded[service.YearReport](club.call("cora", http.MethodGet, "/api/v1/reports/year", nil).is(http.StatusOK))
	require.Equal(t, 2, r.Totals[service.YearReceived])
	require.Equal(t, 1, r.Totals[service.YearSettled])
	require.Len(t, r.Months, 12)
	require.Equal(t, []service.FamilyOfYear{{Group: "small-test-group", Family: "Elateridae", Settled: 1, New: true}}, r.Families)
	require.Equal(t, 1, r.Closed.Specimens)
	require.False(t, r.Over)
	require.NotEmpty(t, r.People)
	require.NotEmpty(t, r.People[0].Person, "the policy shows names")
	text := club.page("cora", "/reports/year?year="+year, 200)
	require.Contains(t, text, "new to the collection")
	require.Contains(t, text, "Name of rita")
	require.Equal(t, []string{"Elateridae"}, column(t, club.table("cora", "/reports/year?as=csv&table=families"), "family"))
	require.Len(t, club.table("cora", "/reports/year?as=csv&table=months"), 13)
	require.Contains(t, club.page("cora", "/reports/year?year=2001", 200), "do not change any more")
	club.page("cora", "/reports/year?year=0", 400)
	club.page("rita", "/reports/year", 403)

	policy, err := club.server.Service.Policy(t.Context())
	require.NoError(t, err)
	policy.ReliabilityShown, policy.Reason = review.ShownTotals, "for the test"
	_, err = club.server.Service.SetPolicy(t.Context(), club.actor("cora"), service.AnyVersion, policy)
	require.NoError(t, err)
	text = club.page("cora", "/reports/year", 200)
	require.NotContains(t, text, "Name of rita")
	require.Contains(t, text, "fewer than three people")
	for _, judged := range column(t, club.table("cora", "/reports/year?as=csv&table=people"), "judged") {
		require.Empty(t, judged, "of two people whoever knows them could tell")
	}
}

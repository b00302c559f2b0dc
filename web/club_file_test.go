package web

import (
	"encoding/json"
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/jobs"
)

// TestEveryListIsAFile: whatever a page lists can be had as CSV and as JSON, by whoever may see the page, and by nobody else.
func TestEveryListIsAFile(t *testing.T) {
	t.Parallel()
	club := newAPIClub(t)
	club.waitingSeries()
	key := club.reassessed() // with news of it for Ada
	club.planned(false)
	club.call("ada", http.MethodPost, "/api/v1/sheets", catalogueOrder(club.submitted())).is(http.StatusCreated)
	change := club.approved()
	club.call("cora", http.MethodPost, smallGroup+"/releases", map[string]any{"version": "2"}).is(http.StatusCreated)
	club.proposed() // waits for cora
	club.call("ben", http.MethodPost, "/api/v1/searches", map[string]any{"name": "ground beetles", "query": "family=Carabidae"}).is(http.StatusCreated)
	tables := "/tables/small-test-group"
	for path, c := range map[string]struct {
		who, column, cell string
		refused           string // who may not
	}{
		"/news":                             {"ada", "actor_name", "Name of cora", ""},
		"/people?name=ri":                   {"ben", "name", "Name of rita", ""},
		"/series":                           {"ada", "member_name", "Name of ada", ""},
		tables + "/changes":                 {"cora", "by_name", "Name of carl", "rita"},
		tables + "/releases":                {"ben", "version", "2", ""},
		tables + "/reassessments":           {"cora", "key", key, "rita"},
		tables + "/reassessments/" + key:    {"cora", "effect", "below-confidence", "rita"},
		tables + "/changes?status=released": {"cora", "id", change.ID, "ada"},
		"/labels":                           {"ada", "by_name", "Name of ada", ""},
		"/archive":                          {"cora", "file", "a.zip", "rita"},
		"/":                                 {"cora", "person_name", "Name of carl", "ben"},
		"/search":                           {"ben", "name", "ground beetles", ""},
		"/submissions?family=Elateridae":    {"ada", "family", "Elateridae", ""},
	} {
		mark := "?"
		if u, err := url.Parse(path); err == nil && u.RawQuery != "" {
			mark = "&"
		}
		require.Contains(t, column(t, club.table(c.who, path+mark+"as=csv"), c.column), c.cell, path)
		var whole struct {
			Items []map[string]any
			More  bool
		}
		require.NoError(t, json.Unmarshal(club.call(c.who, http.MethodGet, path+mark+"as=json", nil).is(http.StatusOK).body, &whole), path)
		require.NotEmpty(t, whole.Items, path)
		require.Contains(t, club.page(c.who, path, 200), "as=csv", path)
		club.page(c.who, path+mark+"as=xml", 400)
		if c.refused != "" {
			club.page(c.refused, path+mark+"as=csv", 403)
		}
	}
	require.NotContains(t, column(t, club.table("ben", "/series?as=csv"), "member_name"), "Name of ada", "of nobody else's concern")
}

// TestTheProgramIsNamed: what the program did by itself is told as done by a machine, in every form in which a history is told, and
// never as by somebody whose name was erased.
func TestTheProgramIsNamed(t *testing.T) {
	t.Parallel()
	club := newAPIClub(t)
	v := club.submitted()
	club.approved()
	club.call("cora", http.MethodPost, smallGroup+"/releases", map[string]any{"version": "2"}).is(http.StatusCreated)
	require.NoError(t, club.server.Service.Do(t.Context(), jobs.Reassess("small-test-group", club.tablesInForce().Hash), nil))
	path := "/submissions/" + v.Submission.ID
	require.NoError(t, club.server.Accounts.Erase(t.Context(), "ada", "left the club"))
	require.Contains(t, club.page("cora", path+"/history", 200), "<strong>the program itself</strong>")
	history := decoded[struct {
		Entries []struct {
			Actor   string
			Machine bool
		}
		Names map[string]string
	}](club.call("cora", http.MethodGet, at(v, "/events"), nil).is(http.StatusOK))
	last := history.Entries[len(history.Entries)-1]
	require.True(t, last.Machine)
	require.Equal(t, "Revidit (program)", history.Names[last.Actor])
	require.False(t, history.Entries[0].Machine)
	require.Equal(t, "(name erased)", history.Names[history.Entries[0].Actor])
	table := club.table("cora", "/specimens/"+v.Submission.Specimen+"/dossier?as=csv&table=history")
	actors, machines := column(t, table, "actor"), column(t, table, "machine")
	require.Equal(t, "Revidit (program)", actors[len(actors)-1])
	require.Equal(t, "true", machines[len(machines)-1])
	require.Equal(t, "(name erased)", actors[0])
	require.Equal(t, "false", machines[0])
	text := string(club.call("cora", http.MethodGet, path+"/history", nil, "Accept-Language", "de").is(http.StatusOK).body)
	require.Contains(t, text, "das Programm selbst")
	require.Contains(t, text, "(Name gelöscht)")
}

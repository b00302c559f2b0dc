package models_test

import (
	"bytes"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/go-json-experiment/json/jsontext"
	"github.com/stretchr/testify/require"

	"revidit/migrations"
	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
)

// TestRebuildTellsWhatDiffered: rows that say something else than the events, that are missing, that nothing has made, and
// one whose JSON is of another shape.
func TestRebuildTellsWhatDiffered(t *testing.T) {
	t.Parallel()
	for dialect, open := range map[string]func(testing.TB) *models.DB{migrations.SQLite: modelstest.SQLite, migrations.Postgres: modelstest.Postgres} {
		t.Run(dialect, func(t *testing.T) {
			db := open(t)
			modelstest.Live(t, db, 12, 20)
			numbered(t, db)
			require.NoError(t, signing(t, db).SignNow(t.Context()))
			differing := func() map[string]models.Difference {
				t.Helper()
				found, err := db.RebuildCompared(t.Context())
				require.NoError(t, err)
				require.Len(t, found, 19)
				differ := map[string]models.Difference{}
				for _, d := range found {
					if !d.None() {
						differ[d.Table] = d
					}
				}
				return differ
			}
			w := review.NewWriter(review.Moment{Now: time.Date(2026, 7, 1, 9, 0, 0, 0, time.UTC), Actor: review.Actor{Person: "rita", Role: review.RoleReviewer}})
			require.NoError(t, w.Opening(&review.Opening{}, &review.Opened{Specimen: oneOf(t, db, "SELECT min(id) FROM specimens")}))
			require.NoError(t, db.Commit(t.Context(), w.Finished()))
			was := dumped(t, db)
			require.Empty(t, differing(), "what was stored is what the events make")
			require.Equal(t, was, dumped(t, db), "to the last byte")

			one := func(query string) string { return oneOf(t, db, query) }
			spoil := func(statement string) {
				t.Helper()
				result, err := db.Raw().ExecContext(t.Context(), statement)
				require.NoError(t, err)
				n, err := result.RowsAffected()
				require.NoError(t, err)
				require.EqualValues(t, 1, n, statement)
			}
			submission, specimen := one("SELECT max(id) FROM submissions"), one("SELECT min(id) FROM specimens")
			judged := one("SELECT max(person || '/' || submission_id) FROM judged")
			spoil(`UPDATE submissions SET body = '{"id": 7}' WHERE id = '` + submission + "'")
			spoil("UPDATE specimens SET catalogue_number = 'spoilt' WHERE id = '" + specimen + "'")
			spoil("DELETE FROM judged WHERE person || '/' || submission_id = '" + judged + "'")
			spoil("UPDATE proof_tiles SET hashes = (SELECT root FROM proof_tree) WHERE level = 0 AND n = 0")
			opening := one("SELECT max(specimen_id || '/' || person) FROM openings")
			spoil("DELETE FROM openings WHERE specimen_id || '/' || person = '" + opening + "'")
			require.NoError(t, db.Commit(t.Context(), review.Batch{Proposals: []review.CellProposal{{ID: "never-proposed", Seq: 1, Group: "made-up",
				Status: review.ProposalOpen, By: "nobody"}}}))
			_, err := db.Submission(t.Context(), submission)
			require.ErrorContains(t, err, "decode submission")

			differ := differing()
			require.Equal(t, []string{submission}, differ["submissions"].Changed)
			require.Equal(t, []string{specimen}, differ["specimens"].Changed)
			require.Equal(t, []string{judged}, differ["judged"].Added)
			require.Equal(t, []string{"never-proposed"}, differ["cell_proposals"].Removed)
			require.Equal(t, []string{opening}, differ["openings"].Added)
			require.Equal(t, []string{"0/0"}, differ["proof_tiles"].Changed)
			require.Len(t, differ, 6)
			_, err = db.Submission(t.Context(), submission)
			require.NoError(t, err)
			require.Empty(t, differing(), "and nothing is left to do")
			require.Equal(t, was, dumped(t, db))
		})
	}
}

// dumped are the lines of a dump, each of which is checked to be canonical.
func dumped(t *testing.T, db *models.DB) []string {
	t.Helper()
	var dump bytes.Buffer
	all := 0
	require.NoError(t, db.Dump(t.Context(), &dump, func(_ string, rows int) { all += rows }))
	lines := bytes.Split(bytes.TrimSuffix(dump.Bytes(), []byte("\n")), []byte("\n"))
	require.Len(t, lines, all)
	require.Greater(t, all, 100)
	for _, line := range lines {
		again := jsontext.Value(slices.Clone(line))
		require.NoError(t, again.Canonicalize())
		require.Equal(t, string(again), string(line))
	}
	return strings.Split(dump.String(), "\n")
}

// TestDumpIsTheSameOnBothDatabases: the same history leaves the same bytes, whatever it is stored in.
func TestDumpIsTheSameOnBothDatabases(t *testing.T) {
	t.Parallel()
	lite, server := modelstest.SQLite(t), modelstest.Postgres(t)
	modelstest.Live(t, lite, 8, 30)
	numbered(t, lite)
	history, err := lite.EventsAfter(t.Context(), 0, 1_000_000)
	require.NoError(t, err)
	require.NotEmpty(t, history)
	var events []review.Event
	for _, e := range history {
		events = append(events, e.Event)
		if added, ok := e.Change.(*review.PhotosAdded); ok {
			for _, photo := range added.Photos {
				require.NoError(t, server.SaveUpload(t.Context(), review.Upload{Photo: photo}))
			}
		}
	}
	for _, e := range events { // one behind the other, since the order of all tells what a refit has seen
		require.NoError(t, server.Commit(t.Context(), review.Batch{Events: []review.Event{e}}))
	}
	numbered(t, server)
	for _, db := range []*models.DB{lite, server} {
		require.NoError(t, db.Rebuild(t.Context()))
	}
	here, there := dumped(t, lite), dumped(t, server)
	for i := range min(len(here), len(there)) {
		require.Equal(t, here[i], there[i])
	}
	require.Equal(t, len(here), len(there))
}

func oneOf(t *testing.T, db *models.DB, query string) (id string) {
	t.Helper()
	require.NoError(t, db.Raw().QueryRowContext(t.Context(), query).Scan(&id))
	return id
}

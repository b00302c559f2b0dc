package models_test

import (
	"cmp"
	"encoding/json"
	"fmt"
	"iter"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
)

// lived is a database in which everything has happened, written act by act with Commit.
func lived(t *testing.T, open func(testing.TB) *models.DB) *models.DB {
	t.Helper()
	db := open(t)
	modelstest.Live(t, db, 1, 160)
	var submission string // the keys of those years have expired
	require.NoError(t, db.Raw().QueryRowContext(t.Context(), "SELECT min(id) FROM submissions").Scan(&submission))
	events, err := db.Events(t.Context(), review.SubmissionStream(submission))
	require.NoError(t, err)
	require.NoError(t, db.Commit(t.Context(), review.Batch{Key: &review.IdempotencyKey{Person: "p", Key: "k", Digest: "d", Made: submission, At: events[0].At}}))
	return db
}

// TestFillLeavesWhatCommitLeft: whole lives poured into another database make the same rows in every table, and what is
// made again from the events is the same.
func TestFillLeavesWhatCommitLeft(t *testing.T) {
	t.Parallel()
	for name, open := range databases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			source, target := lived(t, open), open(t)
			schema := schemaOf(t, name, target)
			require.NoError(t, target.Fill(t.Context(), every(fillings(t, source))))
			want := tablesOf(t, name, source)
			require.Greater(t, len(want["events"]), 500)
			for _, table := range []string{"queue_entries", "uploads", "withheld", "reliability_people", "accounts", "person_names", "idempotency_keys",
				"drafts", "news", "cell_proposals", "policies", "releases", "judged", "testimonies", "findings"} {
				require.NotEmpty(t, want[table], "nothing of %s would be compared", table)
			}
			requireTestimoniesOfAllKinds(t, source)
			requirePlaced(t, source, len(want["events"]))
			requirePlaced(t, target, len(want["events"]))
			requireNews(t, want["news"], tablesOf(t, name, target)["news"])
			want["news"] = tablesOf(t, name, target)["news"]
			require.Equal(t, want, tablesOf(t, name, target))
			require.Equal(t, schema, schemaOf(t, name, target), "indexes, triggers and references are there again")
			require.NoError(t, target.Rebuild(t.Context()))
			require.Equal(t, want, tablesOf(t, name, target), "rebuilt rows differ")
			_, err := target.Raw().ExecContext(t.Context(), "UPDATE events SET actor = 'eve'")
			require.ErrorContains(t, err, "events are never")
			require.NoError(t, target.Commit(t.Context(), oneEvent()))
			requirePlaced(t, target, len(want["events"])+1)
		})
	}
}

// requireNews requires that a filling tells the same news as the acts did. Of those of whole lives more than a year was
// forgotten; to whom a proposal is told, and what a job has found, is in no event.
func requireNews(t *testing.T, lived, filled []string) {
	t.Helper()
	at := func(row string) string {
		var columns []any
		require.NoError(t, json.Unmarshal([]byte(row), &columns))
		return columns[8].(string)
	}
	var times []string
	lived = slices.DeleteFunc(slices.Clone(lived), func(row string) bool {
		return strings.Contains(row, `"proposal-waits"`) || strings.Contains(row, `"doubted"`)
	})
	require.NotEmpty(t, lived)
	for _, row := range lived {
		times = append(times, at(row))
	}
	oldest := slices.Min(times) // all are written in UTC
	filled = slices.DeleteFunc(slices.Clone(filled), func(row string) bool { return at(row) < oldest })
	require.Equal(t, lived, filled)
}

func every(fillings []models.Filling) iter.Seq2[models.Filling, error] {
	return func(yield func(models.Filling, error) bool) {
		for _, f := range fillings {
			if !yield(f, nil) {
				return
			}
		}
	}
}

func TestFillRefuses(t *testing.T) {
	t.Parallel()
	gap := oneEvent()
	gap.Events[0].Seq = 2
	taken := oneEvent()
	taken.Attach = map[string]string{"p": "a"}
	orphan := models.Filling{Batch: review.Batch{Submissions: []review.Submission{{ID: "s", Seq: 1, Specimen: "none", Status: review.StatusDraft}}}}
	for name, open := range databases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			for want, f := range map[string]models.Filling{"event 1 should": {Batch: gap}, "does not come with it": {Batch: taken}} {
				require.ErrorContains(t, open(t).Fill(t.Context(), every([]models.Filling{f})), want)
			}
			require.ErrorContains(t, open(t).Fill(t.Context(), every([]models.Filling{orphan})), "of specimen none")
			astray := models.Filling{Batch: oneEvent(), Uploads: []review.Upload{{Specimen: "none",
				Photo: review.Photo{ID: "p", SHA256: strings.Repeat("0a", 32), Type: "image/jpeg", Width: 1, Height: 1, By: "ada"}}}}
			require.ErrorContains(t, open(t).Fill(t.Context(), every([]models.Filling{astray})), "uploads", "it is of no specimen")
			used := open(t)
			require.NoError(t, used.Commit(t.Context(), oneEvent()))
			require.ErrorContains(t, used.Fill(t.Context(), every(nil)), "not empty")
		})
	}
}

// fillings are everything that a database holds, made from its events again.
func fillings(t *testing.T, db *models.DB) []models.Filling {
	t.Helper()
	made := []models.Filling{people(t, db)}
	records := map[string]int{}                                                    // specimen: its place in made
	streams := column(t, db, "SELECT DISTINCT stream FROM events ORDER BY stream") // specimens before submissions
	slices.SortStableFunc(streams, func(a, b string) int {                         // what was learnt stands behind what it was learnt from
		return cmp.Compare(strings.Count(a, review.ReliabilityStream("")), strings.Count(b, review.ReliabilityStream("")))
	})
	for _, stream := range streams {
		events, err := db.Events(t.Context(), stream)
		require.NoError(t, err)
		if strings.HasPrefix(stream, review.PolicyStream) || strings.HasPrefix(stream, "tables/") {
			for _, e := range events { // each has a row of its own
				made = append(made, filling(t, db, stream, []review.Event{e}))
			}
			continue
		}
		f := filling(t, db, stream, events)
		if len(f.Submissions) > 0 {
			of := &made[records[f.Submissions[0].Specimen]]
			of.Events, of.Submissions = append(of.Events, f.Events...), append(of.Submissions, f.Submissions...)
			if f.Key != nil {
				require.Nil(t, of.Key)
				of.Key = f.Key
			}
			continue
		}
		if len(f.Specimens) > 0 {
			records[f.Specimens[0].ID] = len(made)
		}
		made = append(made, f)
	}
	for _, i := range records {
		made[i].Learnt = learntFrom(t, db, made[i].Specimens[0].ID)
	}
	return append(append(made, drafts(t, db)...), uploads(t, db), findings(t, db))
}

// drafts are all that were not submitted.
func drafts(t *testing.T, db *models.DB) (made []models.Filling) {
	t.Helper()
	for _, row := range rowsOfQuery(t, db, "SELECT owner, id FROM drafts") {
		d, err := db.Draft(t.Context(), row[0].(string), row[1].(string))
		require.NoError(t, err)
		made = append(made, models.Filling{Batch: review.Batch{Draft: &review.DraftSaved{Draft: d}}})
	}
	return made
}

// requirePlaced: every event has a position, from 1 without a gap, and each stream is in order.
func requirePlaced(t *testing.T, db *models.DB, events int) {
	t.Helper()
	numberAll(t, db)
	all, err := db.EventsAfter(t.Context(), 0, events+1)
	require.NoError(t, err)
	require.Len(t, all, events)
	seqs := map[string]int{}
	for i, e := range all {
		seqs[e.Stream]++
		require.Equal(t, []int64{int64(i + 1), int64(seqs[e.Stream])}, []int64{e.Position, int64(e.Seq)}, e.Stream)
	}
}

// requireTestimoniesOfAllKinds: of what is closed and of what is open again, and learnt from.
func requireTestimoniesOfAllKinds(t *testing.T, db *models.DB) {
	t.Helper()
	require.Len(t, rowsOfQuery(t, db, "SELECT DISTINCT closed_at IS NULL FROM testimonies"), 2)
	require.Len(t, rowsOfQuery(t, db, "SELECT DISTINCT 1 FROM testimonies WHERE learnt = 1"), 1)
}

// learntFrom are the groups whose reliability has taken a specimen in, which its own events do not tell.
func learntFrom(t *testing.T, db *models.DB, specimen string) map[string]bool {
	t.Helper()
	learnt := map[string]bool{}
	for _, row := range rowsOfQuery(t, db, fmt.Sprintf("SELECT group_id, learnt FROM testimonies WHERE specimen_id = '%s'", specimen)) {
		learnt[row[0].(string)] = row[1].(int64) == 1
	}
	return learnt
}

// findings are what jobs have found so far.
func findings(t *testing.T, db *models.DB) (f models.Filling) {
	t.Helper()
	for _, row := range rowsOfQuery(t, db, "SELECT kind, group_id, key FROM findings") {
		found, err := db.Found(t.Context(), review.FoundKind(row[0].(string)), row[1].(string), row[2].(string))
		require.NoError(t, err)
		f.Found = append(f.Found, found)
	}
	return f
}

func filling(t *testing.T, db *models.DB, stream string, events []review.Event) (f models.Filling) {
	t.Helper()
	f.Events = events
	kind, id, _ := strings.Cut(stream, "/")
	switch kind {
	case "specimen":
		specimen, err := review.ReplaySpecimen(events)
		require.NoError(t, err)
		f.Specimens = []review.Specimen{specimen}
		f.Withheld = withheldOf(t, db, events)
	case "submission":
		submission, err := review.ReplaySubmission(events)
		require.NoError(t, err)
		f.Submissions, f.Key = []review.Submission{submission}, keyOf(t, db, id)
	case "account": // the accounts themselves are read beside
	case "opening":
		opening, err := review.ReplayOpening(events)
		require.NoError(t, err)
		f.Openings = []review.Opening{opening}
	case "policy":
		last := events[len(events)-1].Change.(*review.PolicySet).Policy
		f.Policy = &last
	case "cell-proposal":
		proposal, err := review.ReplayCellProposal(events)
		require.NoError(t, err)
		f.Proposals = []review.CellProposal{proposal}
	case "reliability":
		reliability, err := review.ReplayReliability(id, events)
		require.NoError(t, err)
		f.Reliability = &reliability
	case "tables":
		release, err := db.Release(t.Context(), events[0].Change.(*review.TablesReleased).Release.Hash)
		require.NoError(t, err)
		f.Release = &release
	default:
		t.Fatal("events of a kind that this test does not know: " + stream)
	}
	return f
}

// people are everybody, with their accounts; a person without one has been a determiner.
func people(t *testing.T, db *models.DB) (f models.Filling) {
	t.Helper()
	accounts, err := db.FindAccounts(t.Context())
	require.NoError(t, err)
	known := map[string]bool{}
	for _, a := range accounts {
		known[a.Person] = true
	}
	f.Accounts = accounts
	ids := column(t, db, "SELECT id FROM people")
	found, err := db.People(t.Context(), ids)
	require.NoError(t, err)
	for _, id := range ids {
		if !known[id] {
			f.People = append(f.People, found[id])
		}
	}
	return f
}

func withheldOf(t *testing.T, db *models.DB, events []review.Event) (withheld []review.WithheldRecord) {
	t.Helper()
	var ids []string
	for _, e := range events {
		switch c := e.Change.(type) {
		case *review.SpecimenRegistered:
			ids = append(ids, c.Withholding.ID)
		case *review.LabelCorrected:
			ids = append(ids, c.Withholding.ID)
		}
	}
	found, err := db.Withheld(t.Context(), ids)
	require.NoError(t, err)
	for _, w := range found {
		withheld = append(withheld, w)
	}
	return withheld
}

// uploads are all photos, also those that no specimen has taken.
func uploads(t *testing.T, db *models.DB) (f models.Filling) {
	t.Helper()
	for _, id := range column(t, db, "SELECT id FROM uploads") {
		upload, err := db.Upload(t.Context(), id)
		require.NoError(t, err)
		f.Uploads = append(f.Uploads, upload)
	}
	return f
}

func keyOf(t *testing.T, db *models.DB, submission string) *review.IdempotencyKey {
	t.Helper()
	found := column(t, db, fmt.Sprintf("SELECT person || '/' || key FROM idempotency_keys WHERE made = '%s'", submission))
	if len(found) == 0 {
		return nil
	}
	person, key, _ := strings.Cut(found[0], "/")
	_, digest, err := db.Served(t.Context(), person, key)
	require.NoError(t, err)
	events, err := db.Events(t.Context(), review.SubmissionStream(submission))
	require.NoError(t, err)
	return &review.IdempotencyKey{Person: person, Key: key, Digest: digest, Made: submission, At: events[0].At}
}

func column(t *testing.T, db *models.DB, query string) (texts []string) {
	t.Helper()
	for _, row := range rowsOfQuery(t, db, query) {
		texts = append(texts, row[0].(string))
	}
	return texts
}

func rowsOfQuery(t *testing.T, db *models.DB, query string) (all [][]any) {
	t.Helper()
	rows, err := db.Raw().QueryContext(t.Context(), query)
	require.NoError(t, err)
	defer rows.Close()
	columns, err := rows.Columns()
	require.NoError(t, err)
	for rows.Next() {
		values, into := make([]any, len(columns)), make([]any, len(columns))
		for i := range values {
			into[i] = &values[i]
		}
		require.NoError(t, rows.Scan(into...))
		for i, v := range values {
			if at, ok := v.(time.Time); ok { // in whatever zone the server is
				values[i] = at.UTC()
			}
		}
		all = append(all, values)
	}
	require.NoError(t, rows.Err())
	return all
}

// What somebody has asked for and is still to be done, and what was done of it, is no part of a filling: it is made of
// times, tries and ids of runs, and whoever fills a database asks for what he wants. The index of texts is compared by
// what it finds, as its rows have numbers that mean nothing. The positions of events follow the order in which lives were
// told: requirePlaced looks at them.
var tablesQuery = map[string]string{
	"SQLite": "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' AND name NOT LIKE 'goose_%' " +
		"AND name NOT LIKE 'river_%' AND name NOT IN ('jobs', 'event_positions', 'searched') AND name NOT LIKE 'trigrams%'",
	"Postgres": "SELECT tablename::text FROM pg_tables WHERE schemaname = current_schema() AND tablename NOT LIKE 'goose_%' " +
		"AND tablename NOT LIKE 'river_%' AND tablename NOT IN ('jobs', 'event_positions', 'event_outbox')",
}

// tablesOf is every row of every table, in order.
func tablesOf(t *testing.T, name string, db *models.DB) map[string][]string {
	t.Helper()
	all := map[string][]string{}
	for _, table := range column(t, db, tablesQuery[name]) {
		all[table] = textsOf(t, rowsOfQuery(t, db, "SELECT * FROM "+table))
	}
	if name == "SQLite" {
		all["searched"] = searchedOf(t, db)
	}
	return all
}

func textsOf(t *testing.T, rows [][]any) (texts []string) {
	t.Helper()
	for _, row := range rows {
		text, err := json.Marshal(row)
		require.NoError(t, err)
		texts = append(texts, string(text))
	}
	slices.Sort(texts)
	return texts
}

// searchedOf is which three characters SQLite finds in the texts of which submission or specimen, and where.
// fts5vocab: https://www.sqlite.org/fts5.html#the_fts5vocab_virtual_table_module
func searchedOf(t *testing.T, db *models.DB) []string {
	t.Helper()
	_, err := db.Raw().ExecContext(t.Context(), "CREATE VIRTUAL TABLE IF NOT EXISTS indexed USING fts5vocab(trigrams, instance)")
	require.NoError(t, err)
	defer func() {
		_, err := db.Raw().ExecContext(t.Context(), "DROP TABLE indexed")
		require.NoError(t, err)
	}()
	found := textsOf(t, rowsOfQuery(t, db, "SELECT v.term, v.offset, n.submission_id, n.specimen_id FROM indexed AS v LEFT JOIN searched AS n ON n.number = v.doc"))
	require.NotEmpty(t, found)
	return found
}

// schemaOf is every index, trigger and constraint.
func schemaOf(t *testing.T, name string, db *models.DB) []string {
	t.Helper()
	all := column(t, db, map[string]string{
		"SQLite": "SELECT type || name || coalesce(sql, '') FROM sqlite_schema",
		"Postgres": "SELECT indexdef FROM pg_indexes WHERE schemaname = current_schema() UNION ALL " +
			"SELECT tgname || tgenabled::text || pg_get_triggerdef(oid) FROM pg_trigger WHERE NOT tgisinternal UNION ALL " +
			"SELECT conrelid::regclass::text || conname || pg_get_constraintdef(oid) FROM pg_constraint WHERE connamespace = current_schema()::regnamespace",
	}[name])
	slices.Sort(all)
	return all
}

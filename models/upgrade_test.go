package models_test

import (
	"os"
	"testing"
	"time"

	"github.com/pressly/goose/v3"
	"github.com/stretchr/testify/require"

	"revidit/migrations"
	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
)

// What was stored before there were groups, as the version of that time wrote it.
var beforeGroups = []string{
	`INSERT INTO events VALUES ('specimen/a', 1, '2026-05-14T12:00:00.000000Z', 'ada', 'member', 'specimen-registered',
		'{"id":"a","label":{},"seal":{}}')`,
	`INSERT INTO events VALUES ('submission/a', 1, '2026-05-14T12:00:00.000000Z', 'ada', 'member', 'drafted',
		'{"id":"a","specimen":"a","determination":{"family":"Elateridae","determiner":"ada","determined_on":"2026"},"cites":[],"photos":[]}')`,
	`INSERT INTO events VALUES ('submission/a', 2, '2026-05-14T12:00:00.000000Z', 'ada', 'member', 'submitted', '{}')`,
	`INSERT INTO specimens VALUES ('a', 1, 'ada', '', '', '', '', '{"id":"a","seq":1,"owner":"ada"}')`,
	`INSERT INTO submissions VALUES ('a', 2, 'a', 'ada', 'open', 'Elateridae', '', '', 'elateridae', 0, '', 0, '', 0, 0,
		'2026-05-14T12:00:00.000000Z', '2026-05-14T12:00:00.000000Z', '2026-05-14T12:00:00.000000Z', 1778760000, '', NULL,
		'{"id":"a","seq":2,"specimen":"a","owner":"ada","status":"open","determination":{"family":"Elateridae"}}')`,
}

func TestSubmissionsOfATimeWithoutGroups(t *testing.T) {
	for name, c := range map[string]struct {
		url     func(testing.TB) string
		dialect goose.Dialect
		folder  string
	}{
		"SQLite":   {modelstest.SQLitePath, goose.DialectSQLite3, migrations.SQLite},
		"Postgres": {modelstest.EmptyPostgresURL, goose.DialectPostgres, migrations.Postgres},
	} {
		t.Run(name, func(t *testing.T) {
			db, err := models.Open(t.Context(), c.url(t))
			require.NoError(t, err)
			defer db.Close()
			provider, err := goose.NewProvider(c.dialect, db.Raw(), os.DirFS("../migrations/"+c.folder), goose.WithDisableGlobalRegistry(true))
			require.NoError(t, err)
			_, err = provider.UpTo(t.Context(), 5)
			require.NoError(t, err)
			for _, statement := range beforeGroups {
				_, err := db.Raw().ExecContext(t.Context(), statement)
				require.NoError(t, err, "%s", statement)
			}
			require.NoError(t, db.Migrate(t.Context()))
			requireGroup(t, db, "coleoptera-adults")

			require.NoError(t, db.Rebuild(t.Context()))
			requireGroup(t, db, "")
		})
	}
}

// requireGroup requires that lists, the queue and determinations find the one submission in a group.
func requireGroup(t *testing.T, db *models.DB, group string) {
	t.Helper()
	lines, _, err := db.FindSubmissions(t.Context(), review.SubmissionFilter{Group: group}, review.Page{Size: 5})
	require.NoError(t, err)
	require.Len(t, lines, 1)
	require.Equal(t, group, lines[0].Group)
	queue, _, err := db.FindQueue(t.Context(), review.QueueFilter{AsOf: time.Now(), Group: group}, review.Page{Size: 5})
	require.NoError(t, err)
	require.Len(t, queue, 1)
	require.Equal(t, group, queue[0].Group)
	visits := 0
	err = db.EachDetermination(t.Context(), group, func(s review.Submission, specimen review.Specimen, siblings []review.Submission) error {
		visits++
		require.Equal(t, []string{"a", "a"}, []string{s.ID, specimen.ID})
		require.Len(t, siblings, 1)
		return nil
	})
	require.NoError(t, err)
	require.Equal(t, 1, visits)
}

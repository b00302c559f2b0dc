package models_test

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/pressly/goose/v3"
	"github.com/stretchr/testify/require"

	"revidit/migrations"
	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/service"
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

// former makes a database of a former schema.
type former struct {
	url     func(testing.TB) string
	dialect goose.Dialect
	folder  string
}

var formers = map[string]former{
	"SQLite":   {modelstest.SQLitePath, goose.DialectSQLite3, migrations.SQLite},
	"Postgres": {modelstest.EmptyPostgresURL, goose.DialectPostgres, migrations.Postgres},
}

// upgraded is a database in which rows were stored with the schema of a version, and which was migrated then.
func (f former) upgraded(t *testing.T, version int64, rows []string) *models.DB {
	t.Helper()
	db, err := models.Open(t.Context(), f.url(t))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, db.Close()) })
	provider, err := goose.NewProvider(f.dialect, db.Raw(), os.DirFS("../migrations/"+f.folder), goose.WithDisableGlobalRegistry(true))
	require.NoError(t, err)
	_, err = provider.UpTo(t.Context(), version)
	require.NoError(t, err)
	for _, statement := range rows {
		_, err := db.Raw().ExecContext(t.Context(), statement)
		require.NoError(t, err, "%s", statement)
	}
	require.NoError(t, db.Migrate(t.Context()))
	return db
}

func TestSubmissionsOfATimeWithoutGroups(t *testing.T) {
	t.Parallel()
	for name, c := range formers {
		t.Run(name, func(t *testing.T) {
			db := c.upgraded(t, 5, beforeGroups)
			requireGroup(t, db, "coleoptera-adults")

			require.NoError(t, db.Rebuild(t.Context()))
			requireGroup(t, db, "")
		})
	}
}

// requireGroup requires that lists, the queue and determinations find the one submission in a group.
func requireGroup(t *testing.T, db *models.DB, group string) {
	t.Helper()
	lines, _, err := db.FindSubmissions(t.Context(), service.SubmissionFilter{Group: group}, service.Page{Size: 5})
	require.NoError(t, err)
	require.Len(t, lines, 1)
	require.Equal(t, group, lines[0].Group)
	queue, _, err := db.FindQueue(t.Context(), service.QueueFilter{AsOf: time.Now(), Group: group}, service.Page{Size: 5})
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

// submissionBefore is how a submission of a specimen "a" by Ada was stored before there were rechecks.
func submissionBefore(id, status, openedAt, openedUnix, events, body string) []string {
	statements := []string{"INSERT INTO submissions (id, seq, specimen_id, owner, status, family, scientific_name, qualifier, search, confidence, " +
		"leading_family, contradictions, photo, reviewers, gain, drafted_at, changed_at, opened_at, opened_unix, hold_by, hold_until, body, group_id) " +
		"VALUES ('" + id + "', 1, 'a', 'ada', '" + status + "', 'Elateridae', '', '', 'elateridae', 0, '', 0, '', 0, 0.25, " +
		"'2026-05-14T12:00:00.000000Z', '2026-05-14T12:00:00.000000Z', " + openedAt + ", " + openedUnix + ", '', NULL, '" + body + "', 'coleoptera-adults')"}
	for i, change := range strings.Split(events, "\n") {
		actor, change, _ := strings.Cut(change, " ")
		kind, data, _ := strings.Cut(change, " ")
		statements = append(statements, fmt.Sprintf("INSERT INTO events VALUES ('submission/%s', %d, '2026-05-14T12:00:00.000000Z', '%s', 'reviewer', '%s', '%s')",
			id, i+1, actor, kind, data))
	}
	return statements
}

const (
	draftedBefore   = `ada drafted {"id":"%s","group":"coleoptera-adults","specimen":"a","determination":{"family":"Elateridae","determiner":"%s","determined_on":"2026"},"cites":[],"photos":[]}`
	submittedBefore = "\nada submitted {}"
	assessedBefore  = "\nada assessed " + `{"assessment":{"family":"Elateridae"},"gain":0.25}`
)

// beforeRechecks are a draft, an open submission that two have reviewed and one has sent back before, and a closed one.
func beforeRechecks() []string {
	const at, unix = "'2026-05-14T12:00:00.000000Z'", "1778760000"
	rows := []string{beforeGroups[0], beforeGroups[3]}
	rows = append(rows, submissionBefore("draft", "draft", "NULL", "NULL", fmt.Sprintf(draftedBefore, "draft", "ada"),
		`{"id":"draft","determination":{"determiner":"ada"},"verdicts":[],"opinions":[],"returns":[]}`)...)
	rows = append(rows, submissionBefore("open", "open", at, unix, fmt.Sprintf(draftedBefore, "open", "old")+submittedBefore+
		"\n"+`cyd returned {"return":{"id":"r","want":"photo","text":"t","by":"cyd","at":"2026-05-14T12:00:00Z","answers":[],"answered":false}}`+
		"\n"+`ada answered {"answer":{"by":"ada","at":"2026-05-14T12:00:00Z"}}`+
		"\n"+`dan opinion-given {"opinion":{"kind":"agrees","basis":"photos","by":"dan","at":"2026-05-14T12:00:00Z"}}`+
		"\n"+`bob verdicts-given {"verdicts":[{"observation":"o","kind":"confirm","by":"bob","role":"reviewer","at":"2026-05-14T12:00:00Z"}]}`+assessedBefore,
		`{"id":"open","status":"open","determination":{"determiner":"old"},"verdicts":[{"by":"bob"},{"by":"bob"}],"opinions":[{"by":"dan"}],"returns":[{"by":"cyd"}]}`)...)
	return append(rows, submissionBefore("closed", "undetermined", at, unix, fmt.Sprintf(draftedBefore, "closed", "ada")+submittedBefore+assessedBefore+
		"\nbob undetermined {}", `{"id":"closed","status":"undetermined","determination":{"determiner":"ada"}}`)...)
}

func TestSubmissionsOfATimeWithoutRechecks(t *testing.T) {
	t.Parallel()
	for name, c := range formers {
		t.Run(name, func(t *testing.T) {
			db := c.upgraded(t, 7, beforeRechecks())
			require.NoError(t, db.CheckSchema(t.Context()))
			requireBeforeRechecks(t, db)
			require.NoError(t, db.Rebuild(t.Context()))
			requireBeforeRechecks(t, db)
		})
	}
}

// requireBeforeRechecks requires that nothing is drawn, that the open submission alone waits, and that it does so for
// those who neither own nor determined nor judged it.
func requireBeforeRechecks(t *testing.T, db *models.DB) {
	t.Helper()
	lines, _, err := db.FindSubmissions(t.Context(), service.SubmissionFilter{Viewer: "ada", Owner: "ada"}, service.Page{Size: 5})
	require.NoError(t, err)
	known := map[string][]string{}
	for _, l := range lines {
		require.Nil(t, l.Draw)
		require.False(t, l.RecheckOpen)
		known[l.ID] = l.KnownTo
	}
	require.Equal(t, map[string][]string{"draft": {"ada"}, "open": {"ada", "bob", "cyd", "dan", "old"}, "closed": {"ada"}}, known)
	for viewer, want := range map[string]int{"eve": 1, "cyd": 1, "bob": 0, "dan": 0, "ada": 0, "old": 0} {
		queue, _, err := db.FindQueue(t.Context(), service.QueueFilter{AsOf: time.Unix(1778760000, 0), Viewer: viewer, Rechecks: true,
			Weights: map[string]float64{"head": 0.5}}, service.Page{Size: 5})
		require.NoError(t, err)
		require.Len(t, queue, want, viewer)
		if want == 0 {
			continue
		}
		require.Equal(t, "open", queue[0].ID)
		require.Equal(t, 0.25, queue[0].Gain, "of the whole specimen, by nobody in particular")
		require.Empty(t, queue[0].Region)
		require.Equal(t, time.Unix(1778760000, 0).UTC(), queue[0].WaitsSince)
	}
}

// TestLabelPhotosAndKeysOfATimeBefore: photos of labels that were stored before lists had to know of them, and what a key had
// made when it could make submissions alone.
func TestLabelPhotosAndKeysOfATimeBefore(t *testing.T) {
	t.Parallel()
	const photos = `[{"id":"p","view":"below"},{"id":"q","view":"label"},{"id":"r","view":"label"}]`
	rows := []string{
		`INSERT INTO specimens (id, seq, owner, catalogue_number, trip, storage_place, search, body)
			VALUES ('a', 1, 'ada', '', '', '', '', '{"id":"a","seq":1,"owner":"ada","label":{},"photos":` + photos + `}')`,
		`INSERT INTO specimens (id, seq, owner, catalogue_number, trip, storage_place, search, body)
			VALUES ('b', 1, 'ada', '', '', '', '', '{"id":"b","seq":1,"owner":"ada","label":{},"photos":null}')`,
	}
	for _, id := range []string{"a", "b"} {
		rows = append(rows, `INSERT INTO submissions (id, seq, specimen_id, owner, status, family, scientific_name, qualifier, search, confidence, leading_family,
			contradictions, photo, reviewers, gain, drafted_at, changed_at, opened_at, opened_unix, hold_by, body, group_id, determiner, known_to, evidence)
			VALUES ('`+id+`', 2, '`+id+`', 'ada', 'open', 'Elateridae', '', '', 'elateridae', 0, '', 0, 'q', 0, 0, '2026-05-14T12:00:00.000000Z',
			'2026-05-14T12:00:00.000000Z', '2026-05-14T12:00:00.000000Z', 1778760000, '', '{"id":"`+id+`"}', 'g', 'ada', ' ada ', 1)`)
	}
	rows = append(rows, `INSERT INTO idempotency_keys (person, key, digest, submission_id, at) VALUES ('ada', 'k', 'd', 'a', '2026-05-14T12:00:00.000000Z')`)
	for name, c := range formers {
		t.Run(name, func(t *testing.T) {
			db := c.upgraded(t, 17, rows)
			lines, _, err := db.FindSubmissions(t.Context(), service.SubmissionFilter{}, service.Page{Size: 5})
			require.NoError(t, err)
			found := map[string][]string{}
			for _, l := range lines {
				found[l.ID] = l.LabelPhotos
				require.Equal(t, "ada", l.SpecimenOwner)
			}
			require.Equal(t, map[string][]string{"a": {"q", "r"}, "b": {}}, found)
			made, digest, err := db.Served(t.Context(), "ada", "k")
			require.NoError(t, err)
			require.Equal(t, []string{"a", "d"}, []string{made, digest})
		})
	}
}

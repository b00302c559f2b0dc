package models_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/migrations"
	"revidit/models"
)

// fillingSQL makes many rows by SQL alone, without events: what plans of queries hang on, in shares that do not change with
// how many there are. n numbers them from 1; the statements of both databases differ in how they write this.
var fillingSQL = []string{
	`INSERT INTO people (id, name, role) SELECT 'p' || n, 'Person ' || n, 'reviewer' FROM numbers WHERE n <= 10000`,
	`INSERT INTO specimens (id, seq, owner, catalogue_number, trip, storage_place, search, body)
		SELECT 'sp' || n, 1, 'p' || (n % 500), 'RV-' || (10000000 + n), 'Trip ' || (n % 50), 'Drawer ' || (n % 1000),
			{LINES} || 'rv-' || (10000000 + n), {BODY} FROM numbers`,
	`INSERT INTO submissions (id, seq, specimen_id, owner, status, family, scientific_name, qualifier, search, confidence, leading_family,
			contradictions, photo, reviewers, gain, drafted_at, changed_at, opened_at, opened_unix, hold_by, hold_until, body, group_id, determiner, known_to, evidence)
		SELECT 's' || n, 3, 'sp' || n, 'p' || (n % 500), status, family, '', '', {LINES} || lower(family), 0.9, family,
			CASE WHEN n % 7 = 0 THEN 1 ELSE 0 END, '', n % 4, 0.5, {EPOCH}, {TIME}, CASE WHEN status <> 'draft' THEN {TIME} END,
			CASE WHEN status <> 'draft' THEN 1700000000 + 1.0 * n END,
			CASE WHEN held THEN 'p' || (n % 500) ELSE '' END, CASE WHEN held THEN {TIME} END, {BODY},
			CASE WHEN n % 50 = 0 THEN 'larvae' ELSE 'adults' END, 'p' || (n % 500), ' p' || (n % 500) || ' ', 1
		FROM (SELECT n, n % 10 = 5 AND n % 100 < 30 AS held, CASE WHEN n % 100 < 30 THEN 'open' WHEN n % 100 < 33 THEN 'returned' WHEN n % 100 < 34 THEN 'draft' WHEN n % 100 < 90 THEN 'confirmed'
				WHEN n % 100 < 95 THEN 'redetermined' WHEN n % 100 < 99 THEN 'undetermined' ELSE 'withdrawn' END AS status,
			CASE WHEN n % 1000 = 1 THEN 'Rareidae' ELSE 'Family' || (n % 61) || 'idae' END AS family FROM numbers) AS made`,
	`INSERT INTO queue_entries (submission_id, place, list, urgency, family, trip, storage_place)
		SELECT s.id, 0, 'open/' || s.group_id, -s.opened_unix, s.family, sp.trip, sp.storage_place
		FROM submissions AS s JOIN specimens AS sp ON sp.id = s.specimen_id WHERE s.status = 'open'`,
	`INSERT INTO queue_entries (submission_id, place, list, urgency, family, trip, storage_place)
		SELECT q.submission_id, r.n, 'gain/' || substr(q.list, 6) || '/region' || r.n,
			round((1 + (CAST(-q.urgency AS bigint) * (104729 + 7 * r.n)) % 1000000) / {MILLION}, 6), q.family, q.trip, q.storage_place
		FROM queue_entries AS q CROSS JOIN numbers AS r WHERE q.place = 0 AND r.n <= 8`,
	`UPDATE submissions SET release = 'hash' || (length(id) % 3), against = CASE WHEN contradictions > 0 THEN CASE WHEN id LIKE '%77' THEN 4 ELSE 33 END ELSE 0 END`,
	`INSERT INTO said (person, submission_id, changed_at, confirmed, disputed, opinion, against)
		SELECT 'p' || (CAST(substr(s.id, 2) AS integer) % 7 + 3), s.id, s.changed_at, 1, CASE WHEN s.id LIKE '%5' THEN 1 ELSE 0 END, CASE WHEN s.id LIKE '%3' THEN 'another' ELSE 'agrees' END, s.against
		FROM submissions AS s WHERE s.status NOT IN ('draft', 'open', 'returned')`,
	`INSERT INTO closings (group_id, kind, at, subject, body) SELECT 'adults', CASE WHEN n % 9 = 0 THEN 'panel' ELSE 'testimony' END, {TIME}, 'sp' || n, '{"rate":1,"panel":3,"opinions":[]}' FROM numbers`,
	`INSERT INTO saved_searches (id, person, name, query, at) SELECT 'q' || n, 'p' || (n % 500), 'one', '', {TIME} FROM numbers`,
	`INSERT INTO events (stream, seq, at, actor, role, kind, data)
		SELECT 'submission/s' || n, 1, {TIME}, 'p1', 'member', CASE WHEN n % 9 = 0 THEN 'confirmed' WHEN n % 9 < 3 THEN 'label-corrected' ELSE 'submitted' END, '{}' FROM numbers`,
	`INSERT INTO intakes (id, state, at, body) SELECT 'in' || n, 'planned', {TIME}, '{}' FROM numbers`,
	`INSERT INTO judged (person, submission_id, evidence) SELECT 'p' || (1 + n % 500), 's' || n, 1 FROM numbers WHERE n % 100 < 30`,
	`INSERT INTO openings (specimen_id, person, seq, verdicts) SELECT 'sp' || n, 'p' || (1 + n % 500), 1, {NO} FROM numbers`,
	`INSERT INTO uploads (id, sha256, type, width, height, uploader, at, specimen_id)
		SELECT 'u' || n, {LONG}, 'image/jpeg', 1, 1, 'p1', {TIME}, CASE WHEN n % 100 > 0 THEN 'sp' || n END FROM numbers`,
	`INSERT INTO drafts (id, owner, version, specimen_id, status, group_id, family, scientific_name, qualifier, doubted, catalogue_number, trip,
			storage_place, photo, search, changed_at, body)
		SELECT 'd' || n, 'p' || (n % 500), 1, 'sp' || n, CASE WHEN n % 3 = 0 THEN 'withdrawn' ELSE 'draft' END, 'adults', 'Family' || (n % 61) || 'idae',
			'', '', '', '', '', '', '', {LINES} || 'family', {TIME}, {BODY} FROM numbers`,
	`UPDATE submissions SET series = 'se' || substr(id, 3) WHERE id LIKE 's_5' OR id LIKE 's__5' OR id LIKE 's___5'`,
	`INSERT INTO series (id, seq, member, mentor, status, begun_at, changed_at, body)
		SELECT 'se' || n, 1, 'm' || n, 'p' || (n % 500), 'ended', {TIME}, {TIME}, '{"id":"se' || n || '"}' FROM numbers`,
	`INSERT INTO cell_proposals (id, seq, group_id, status, proposer, at, body) SELECT 'cp' || n, 1, 'adults', 'released', 'p' || (n % 500), {TIME}, {BODY} FROM numbers`,
	`INSERT INTO reliabilities (group_id, version, at, body) VALUES ('adults', 1, {EPOCH}, '{}')`,
	`INSERT INTO reliability_people (group_id, person, body) SELECT 'adults', 'p' || n, {BODY} FROM numbers`,
	`INSERT INTO accounts (person, login, password_hash, version, disabled, created_at) SELECT id, id, '', 1, id = 'p7', {EPOCH} FROM people`,
	`INSERT INTO sessions (id, person, created_at, expires_at, seen_at) SELECT 's' || n, 'p' || n, {TIME}, {TIME}, {TIME} FROM numbers WHERE n <= 10000`,
	`INSERT INTO account_links (id, purpose, person, name, role, address, mailed, made_by, made_at, expires_at)
		SELECT 'al' || n, 'reset', 'p' || n, '', '', '', {NO}, 'p1', {TIME}, {TIME} FROM numbers WHERE n <= 10000`,
	`INSERT INTO reset_requests (id, typed, made_at) SELECT 'rr' || n, 'somebody', {TIME} FROM numbers WHERE n <= 10000`,
	`INSERT INTO login_steps (digest, kind, person, version, ceremony, way, expires_at) SELECT 'ls' || n, 'second', 'p' || n, 1, '', '', {TIME} FROM numbers WHERE n <= 10000`,
	`INSERT INTO login_attempts (key, until) SELECT 'k' || n, (1700000000 + (n * 7919) % {N}) * 1000000 FROM numbers`,
	`INSERT INTO idempotency_keys (person, key, digest, made, at) SELECT 'p1', 'k' || n, '', 's' || n, {TIME} FROM numbers`,
	`INSERT INTO kept_forms (id, person, path, body, at) SELECT 'f' || n, 'p' || (n % 1000), '/submissions', '{}', {TIME} FROM numbers`,
	`INSERT INTO cell_proposals (id, seq, group_id, status, proposer, at, body) SELECT 'c' || n, 1, 'adults', 'open', 'p' || (n % 500), {TIME}, {BODY} FROM numbers`,
	`INSERT INTO news (id, person, code, group_id, submission, specimen, proposal, actor, at, about, read_at)
		SELECT 'n' || n, 'p' || (n % 500), CASE WHEN n % 9 = 0 THEN 'returned' ELSE 'confirmed' END, 'adults', 's' || n, 'sp' || n, '', 'p1', {TIME}, '{}',
			CASE WHEN n % 500 <> 7 THEN {EPOCH} END FROM numbers`,
	`INSERT INTO letters (id, person, kind, news, made_at, tries, next_at, sent_at, fault)
		SELECT 'l' || n, 'p' || (n % 500), 'digest', '[]', {TIME}, 1, CASE WHEN n % 100 = 0 THEN {TIME} END, CASE WHEN n % 100 > 0 THEN {TIME} END, '' FROM numbers`,
	`INSERT INTO jobs (kind, key, args, wanted, asked, run_args, run_wanted, taken, status, slice, cursor, done, total, tries, error, asked_at, updated_at, finished_at)
		SELECT 'preview', 'k' || n, '', '', 1, '', '', 1, 'done', 1, '', 1, 1, 0, '', {TIME}, {TIME}, {TIME} FROM numbers`,
}

// spelled is how a database writes what differs.
var spelled = map[string]map[string]string{
	migrations.SQLite: {"{LINES}": "char(10, 10)", "{BODY}": "json_object('pad', hex(randomblob(1300)))", "{EPOCH}": "'2026-01-01T00:00:00.000000Z'",
		"{TIME}": "strftime('%Y-%m-%dT%H:%M:%S.000000Z', 1700000000 + (n * 7919) % {N}, 'unixepoch')", "{MILLION}": "1000000.0",
		"{NO}": "0", "{LONG}": "substr('0000000' || n, -8) || hex(zeroblob(28))"},
	migrations.Postgres: {"{LINES}": `E'\n\n'`, "{BODY}": "'{\"pad\":\"' || repeat(md5(n::text), 40) || '\"}'", "{EPOCH}": "timestamptz '2026-01-01'",
		"{TIME}": "to_timestamp(1700000000 + (n * 7919) % {N})", "{MILLION}": "1000000::numeric",
		"{NO}": "false", "{LONG}": "lpad(n::text, 8, '0') || repeat('0', 56)"},
}

var numbersTable = map[string]string{
	migrations.SQLite:   "CREATE TABLE numbers AS WITH RECURSIVE c (n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM c WHERE n < %d) SELECT n FROM c",
	migrations.Postgres: "CREATE TABLE numbers AS SELECT n::bigint FROM generate_series(1, %d) AS n",
}

// fill fills an empty database with n submissions, each of a specimen of its own.
func fill(t testing.TB, db *models.DB, dialect string, n int) {
	t.Helper()
	statements := append([]string{fmt.Sprintf(numbersTable[dialect], n)}, fillingSQL...)
	tx, err := db.Raw().BeginTx(t.Context(), nil)
	require.NoError(t, err)
	for _, s := range append(statements, "DROP TABLE numbers") {
		_, err := tx.ExecContext(t.Context(), spell(s, dialect, n))
		require.NoError(t, err, "%s", s)
	}
	require.NoError(t, tx.Commit())
	if dialect == migrations.SQLite {
		return // nothing counts its rows while it is used, so that its plans must do without
	}
	_, err = db.Raw().ExecContext(t.Context(), "ANALYZE")
	require.NoError(t, err)
}

func spell(statement, dialect string, n int) string {
	for range 2 { // {TIME} holds {N}
		for key, words := range spelled[dialect] {
			statement = strings.ReplaceAll(statement, key, words)
		}
		statement = strings.ReplaceAll(statement, "{N}", fmt.Sprint(n))
	}
	return statement
}

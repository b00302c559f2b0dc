package models_test

import (
	"bytes"
	"context"
	"database/sql"
	"net/url"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/models"
	"revidit/models/blob"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/jobs"
	"revidit/review/proof"
	"revidit/review/service"
)

// signing is a service that signs what the tree of all events is.
func signing(t *testing.T, db *models.DB, outside ...service.Place) *service.Service {
	t.Helper()
	private, err := proof.NewKey("revidit/club")
	require.NoError(t, err)
	signer, err := proof.NewSigner(private)
	require.NoError(t, err)
	return service.NewService(db, &blob.Mem{}, service.NewLibrary(modelstest.Tables(t)), service.Options{Signer: signer, Outside: outside})
}

// numbered waits until every event has a position.
func numbered(t *testing.T, db *models.DB) {
	t.Helper()
	require.Eventually(t, func() bool {
		left, err := db.NumberEvents(t.Context())
		return err == nil && !left
	}, modelstest.Patience, 5*time.Millisecond)
}

func keysOf(t *testing.T, db *models.DB) proof.Keys {
	t.Helper()
	newest, err := db.NewestCheckpoint(t.Context())
	require.NoError(t, err)
	keys, err := proof.ReadKeys(newest.Key)
	require.NoError(t, err)
	return keys
}

func TestCheckpointsAreNeverChanged(t *testing.T) {
	t.Parallel()
	statements := map[string][]string{
		"SQLite":   {"INSERT OR REPLACE INTO checkpoints SELECT size, made_at, 'eve', public_key FROM checkpoints", "UPDATE OR REPLACE checkpoints SET signed = 'eve'"},
		"Postgres": {"TRUNCATE checkpoints", "MERGE INTO checkpoints USING (SELECT 1) AS one ON true WHEN MATCHED THEN DELETE"},
	}
	for name, open := range databases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			db := open(t)
			require.NoError(t, db.Commit(t.Context(), oneEvent()))
			numbered(t, db)
			require.NoError(t, signing(t, db).SignNow(t.Context()))
			before, err := db.NewestCheckpoint(t.Context())
			require.NoError(t, err)
			for _, statement := range append(statements[name], "UPDATE checkpoints SET signed = 'eve'", "DELETE FROM checkpoints",
				"INSERT INTO checkpoints SELECT size, made_at, 'eve', public_key FROM checkpoints WHERE true ON CONFLICT (size) DO UPDATE SET signed = excluded.signed") {
				_, err := db.Raw().ExecContext(t.Context(), statement)
				require.ErrorContains(t, err, "checkpoints are never", "%s", statement)
			}
			after, err := db.NewestCheckpoint(t.Context())
			require.NoError(t, err)
			require.Equal(t, before, after)
		})
	}
}

// strangers are connections of a program that has set nothing of what ours sets, or has set what switches triggers off.
func stranger(t *testing.T, name string) (db *models.DB, pool *sql.DB) {
	t.Helper()
	address := map[string]func(testing.TB) string{"SQLite": migratedSQLite, "Postgres": func(t testing.TB) string { return modelstest.PostgresURL(t) }}[name](t)
	db, err := models.Open(t.Context(), address)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, db.Close()) })
	driver := "sqlite"
	if name == "Postgres" {
		driver = "pgx"
		at, err := url.Parse(address)
		require.NoError(t, err)
		values := at.Query()
		values.Set("session_replication_role", "replica") // what tools for copying set
		at.RawQuery = values.Encode()
		address = at.String()
	}
	pool, err = sql.Open(driver, address)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, pool.Close()) })
	return db, pool
}

func TestNoOtherProgramReplacesWhatIsKept(t *testing.T) {
	t.Parallel()
	for name, statements := range map[string][]string{
		"SQLite": {
			"INSERT OR REPLACE INTO events SELECT stream, seq, at, 'eve', role, kind, data FROM events",
			"REPLACE INTO events SELECT stream, seq, at, 'eve', role, kind, data FROM events",
			"INSERT OR REPLACE INTO event_positions VALUES (1, 'specimen/b', 1)",
			"INSERT OR REPLACE INTO event_positions (stream, seq) VALUES ('specimen/a', 1)",
			"INSERT OR REPLACE INTO checkpoints SELECT size, made_at, 'eve', public_key FROM checkpoints",
			"INSERT OR REPLACE INTO releases SELECT hash, group_id, version, seq, 'eve', at, body, files FROM releases",
			"INSERT OR REPLACE INTO releases SELECT 'another', group_id, version, seq, 'eve', at, body, files FROM releases",
		},
		"Postgres": {"UPDATE events SET actor = 'eve'", "DELETE FROM events", "TRUNCATE events", "DELETE FROM event_positions", "TRUNCATE event_positions",
			"UPDATE checkpoints SET signed = 'eve'", "TRUNCATE checkpoints", "DELETE FROM releases", "TRUNCATE releases"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			db, other := stranger(t, name)
			batch := oneEvent()
			batch.Release = &review.Release{Group: "adults", Version: "1", Hash: "h", Seq: 1, By: "ada", At: time.Unix(0, 0).UTC(), Proposals: []string{}, Files: map[string]string{"group.yaml": "a"}}
			require.NoError(t, db.Commit(t.Context(), batch))
			numbered(t, db)
			require.NoError(t, signing(t, db).SignNow(t.Context()))
			for _, statement := range statements {
				_, err := other.ExecContext(t.Context(), statement)
				require.ErrorContains(t, err, "are never", "%s", statement)
			}
			require.ErrorIs(t, db.Commit(t.Context(), oneEvent()), service.ErrRace, "a lost race is still known as one")
		})
	}
}

// alter changes an event as whoever owns the tables can.
func alter(t *testing.T, db *models.DB, name, change string) {
	t.Helper()
	statements := map[string][]string{
		"SQLite":   {"DROP TRIGGER events_refuse_update", "DROP TRIGGER events_refuse_delete", change},
		"Postgres": {"ALTER TABLE events DISABLE TRIGGER events_refuse_update", "ALTER TABLE events DISABLE TRIGGER events_refuse_delete", change},
	}[name]
	for _, statement := range statements {
		result, err := db.Raw().ExecContext(t.Context(), statement)
		require.NoError(t, err, statement)
		if statement == change {
			n, err := result.RowsAffected()
			require.NoError(t, err)
			require.EqualValues(t, 1, n)
		}
	}
}

// TestWhoeverOwnsTheTablesIsSeen: an event that was altered past the triggers is named by the check of the database, and by an
// export that is held against a list of leaves kept elsewhere; without one the stretch between two checkpoints is.
func TestWhoeverOwnsTheTablesIsSeen(t *testing.T) {
	t.Parallel()
	for name, open := range databases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			db := open(t)
			s := signing(t, db)
			modelstest.Live(t, db, 3, 6)
			numbered(t, db)
			require.NoError(t, s.SignNow(t.Context()))
			for _, id := range []string{"x1", "x2", "x3", "x4"} {
				more := oneEvent()
				more.Events[0].Stream, more.Events[0].Change = review.SpecimenStream(id), &review.SpecimenRegistered{ID: id}
				require.NoError(t, db.Commit(t.Context(), more))
			}
			numbered(t, db)
			require.NoError(t, s.SignNow(t.Context()))
			checkpoints, err := db.Checkpoints(t.Context(), 0, 10)
			require.NoError(t, err)
			require.Len(t, checkpoints, 2)
			var export, list bytes.Buffer
			nothing := func(int, int) {}
			_, err = service.ExportLog(t.Context(), db, &export, &list, nothing)
			require.NoError(t, err)
			keys := keysOf(t, db)
			leaves, err := keys.ReadLeaves(&list)
			require.NoError(t, err)
			report, err := service.VerifyLog(t.Context(), db, proof.Check{Keys: keys, Leaves: leaves}, nothing)
			require.NoError(t, err)
			require.Nil(t, report.Fault)
			require.Len(t, report.Holds, 2)
			require.Equal(t, checkpoints[1].Size, report.Events)
			found := checked(t, db)
			require.Empty(t, found.Problems)

			position := checkpoints[0].Size + 3
			leaf, err := db.LeavesAfter(t.Context(), position-1, 1)
			require.NoError(t, err)
			alter(t, db, name, "UPDATE events SET actor = 'eve' WHERE stream = '"+leaf[0].Stream+"' AND seq = "+strconv.Itoa(leaf[0].Seq))
			report, err = service.VerifyLog(t.Context(), db, proof.Check{Keys: keys, Leaves: leaves}, nothing)
			require.NoError(t, err)
			require.Equal(t, proof.FaultAltered, report.Fault.Kind)
			require.Equal(t, position, report.Fault.Position)
			require.Equal(t, leaf[0].Stream, report.Fault.Event.Stream)
			report, err = service.VerifyLog(t.Context(), db, proof.Check{Keys: keys}, nothing)
			require.NoError(t, err)
			require.Equal(t, proof.FaultBetween, report.Fault.Kind)
			require.Equal(t, []int64{checkpoints[0].Size + 1, checkpoints[1].Size}, []int64{report.Fault.Position, report.Fault.Until})
			_, err = s.ProvePosition(t.Context(), position)
			require.ErrorIs(t, err, proof.ErrAltered)
			damages := checked(t, db).Damages
			require.Contains(t, damages, review.Code("found-trigger", "trigger", "events_refuse_update"))
			require.Contains(t, damages, review.Code("found-altered", "seq", strconv.Itoa(leaf[0].Seq), "stream", leaf[0].Stream, "position", strconv.FormatInt(position, 10)))
		})
	}
}

// TestNothingIsSignedOnAnotherTree: where tiles were made anew from altered events, the former checkpoint tells.
func TestNothingIsSignedOnAnotherTree(t *testing.T) {
	t.Parallel()
	for name, open := range databases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			db := open(t)
			s := signing(t, db)
			require.NoError(t, db.Commit(t.Context(), oneEvent()))
			numbered(t, db)
			require.NoError(t, s.SignNow(t.Context()))
			require.NoError(t, s.SignNow(t.Context()), "nothing new")
			alter(t, db, name, "UPDATE events SET actor = 'eve'")
			require.NoError(t, db.Rebuild(t.Context()))
			require.ErrorIs(t, s.SignNow(t.Context()), proof.ErrAltered)
		})
	}
}

func TestWhenTheTreeIsSigned(t *testing.T) {
	t.Parallel()
	db := modelstest.SQLite(t)
	now := time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)
	private, err := proof.NewKey("revidit/club")
	require.NoError(t, err)
	signer, err := proof.NewSigner(private)
	require.NoError(t, err)
	var put []int64
	place := service.Place{Name: "a folder", Put: putInto(&put)}
	s := service.NewService(db, &blob.Mem{}, service.NewLibrary(modelstest.Tables(t)), service.Options{Now: func() time.Time { return now }, Signer: signer, Outside: []service.Place{place}})
	due := func() (kinds []jobs.Kind) {
		t.Helper()
		found, err := s.DueJobs(t.Context())
		require.NoError(t, err)
		for _, j := range found {
			if j.Kind == jobs.KindProof || j.Kind == jobs.KindSendCheckpoint {
				kinds = append(kinds, j.Kind)
				require.NoError(t, s.Do(t.Context(), j, nil))
			}
		}
		return kinds
	}
	require.Empty(t, due(), "nothing has happened")
	require.NoError(t, db.Commit(t.Context(), oneEvent()))
	require.Equal(t, []jobs.Kind{jobs.KindProof}, due())
	require.Equal(t, []jobs.Kind{jobs.KindSendCheckpoint}, due())
	require.Equal(t, []int64{1}, put)
	other := oneEvent()
	other.Events[0].Stream, other.Events[0].Change = review.SpecimenStream("b"), &review.SpecimenRegistered{ID: "b"}
	require.NoError(t, db.Commit(t.Context(), other))
	now = now.Add(59 * time.Minute)
	require.Empty(t, due(), "once an hour")
	now = now.Add(time.Minute)
	require.Equal(t, []jobs.Kind{jobs.KindProof}, due())
	now = now.Add(23 * time.Hour)
	require.Equal(t, []jobs.Kind{jobs.KindSendCheckpoint}, due())
	require.Equal(t, []int64{1, 2}, put)
	require.Empty(t, due())
	view, err := s.Log(t.Context(), curator)
	require.NoError(t, err)
	require.Equal(t, []any{int64(2), int64(2), int64(2), []string{"a folder"}}, []any{view.Events, view.Newest.Size, view.Sent.Size, view.Places})
	_, err = s.Log(t.Context(), review.Actor{Person: "ada", Role: review.RoleReviewer})
	require.Equal(t, review.KindForbidden, review.KindOf(err))
}

func putInto(sizes *[]int64) func(context.Context, review.SignedCheckpoint) error {
	return func(_ context.Context, c review.SignedCheckpoint) error {
		*sizes = append(*sizes, c.Size)
		return nil
	}
}

// TestAccountsHaveAHistory: whatever is changed of an account is an event, without anything that can be erased.
func TestAccountsHaveAHistory(t *testing.T) {
	t.Parallel()
	for name, open := range databases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			db := open(t)
			ctx, at := t.Context(), time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)
			require.NoError(t, db.CreateAccount(ctx, auth.Account{Person: "p1", Login: "ada", Name: "Ada", Role: review.RoleMember, PasswordHash: "secret", Version: 1, CreatedAt: at}))
			role, hash := review.RoleCurator, "another secret"
			require.NoError(t, db.ChangeAccount(ctx, "p1", auth.AccountChange{Role: &role, Reason: "elected"}))
			require.NoError(t, db.ChangeAccount(ctx, "p1", auth.AccountChange{Disabled: new(true), Reason: "left the club", EndSessions: true}))
			require.NoError(t, db.ChangeAccount(ctx, "p1", auth.AccountChange{Disabled: new(false)}))
			require.NoError(t, db.ChangeAccount(ctx, "p1", auth.AccountChange{PasswordHash: &hash}))
			require.NoError(t, db.ErasePerson(ctx, review.Actor{}, "p1", "asked for it"))
			require.Error(t, db.ChangeAccount(ctx, "p1", auth.AccountChange{Disabled: new(true)}), "and nothing of what was refused")
			events, err := db.Events(ctx, review.AccountStream("p1"))
			require.NoError(t, err)
			var changes []review.Change
			for _, e := range events {
				require.Equal(t, review.ProgramActor, e.Actor)
				changes = append(changes, e.Change)
			}
			require.Equal(t, []review.Change{&review.AccountAdded{Role: review.RoleMember}, &review.RoleChanged{Role: review.RoleCurator, Reason: "elected"},
				&review.AccountDisabled{Reason: "left the club"}, &review.AccountEnabled{}, &review.PasswordSet{}, &review.PersonErased{Reason: "asked for it"}}, changes)
			numbered(t, db)
			leaves, err := db.LeavesAfter(ctx, 0, 100)
			require.NoError(t, err)
			require.Len(t, leaves, 6)
			for _, l := range leaves {
				line, err := l.Line()
				require.NoError(t, err)
				require.NotRegexp(t, "(?i)ada|secret", string(line))
			}
		})
	}
}

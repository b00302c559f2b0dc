package models_test

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/migrations"
	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/service"
)

// TestGroundsFromBefore: in a database of before 0035 grounds are empty. The past is told from the events as it was, and what
// rests on the grounds is made whole by the first walk, equal to what acts and a rebuild make.
func TestGroundsFromBefore(t *testing.T) {
	t.Parallel()
	for dialect, open := range map[string]func(testing.TB) *models.DB{migrations.SQLite: modelstest.SQLite, migrations.Postgres: modelstest.Postgres} {
		t.Run(dialect, func(t *testing.T) {
			t.Parallel()
			db := open(t)
			modelstest.Live(t, db, 1, 60)
			numberedAll(t, db)
			s, group := archiving(t, db), modelstest.Tables(t).Group.ID
			of := settledIn(t, db, group)
			require.NotEmpty(t, of)
			toldThen(t, s, of) // by which it is recorded that the curator was shown them
			past, weighed, grounds := toldThen(t, s, of), reassessedBy(t, s, group), allGrounds(t, db)
			require.NotEmpty(t, grounds)
			require.Positive(t, weighed.Looked)

			nothing := map[string]string{migrations.SQLite: "x''", migrations.Postgres: "''"}[dialect]
			_, err := db.Raw().ExecContext(t.Context(), "UPDATE grounds SET seq = 0, body = "+nothing) // as 0035 has left it
			require.NoError(t, err)
			require.NotEqual(t, grounds, allGrounds(t, db))
			require.Equal(t, past, toldThen(t, s, of))
			require.Equal(t, weighed, reassessedBy(t, s, group))
			require.Equal(t, grounds, allGrounds(t, db))
			differences, err := db.RebuildCompared(t.Context())
			require.NoError(t, err)
			for _, d := range differences {
				require.True(t, d.None(), "%+v", d)
			}
		})
	}
}

func numberedAll(t *testing.T, db *models.DB) {
	t.Helper()
	require.Eventually(t, func() bool {
		left, err := db.NumberEvents(t.Context())
		return err == nil && !left
	}, modelstest.Patience, 5*time.Millisecond)
}

// settledIn are the ids of confirmed submissions.
func settledIn(t *testing.T, db *models.DB, group string) (ids []string) {
	t.Helper()
	found, _, err := db.FindDeterminations(t.Context(), service.DeterminationFilter{Group: group}, service.Page{Size: 1000})
	require.NoError(t, err)
	for _, d := range found {
		if d.Submission.Status == review.StatusConfirmed {
			ids = append(ids, d.Submission.ID)
		}
	}
	return ids
}

// toldThen is how submissions stood at every third moment of theirs, as a curator sees it.
func toldThen(t *testing.T, s *service.Service, ids []string) (told []string) {
	t.Helper()
	for _, id := range ids {
		history, err := s.HistoryOf(t.Context(), archivist, id)
		require.NoError(t, err)
		begun := false
		for i, e := range history.Entries {
			begun = begun || e.Stream == review.SubmissionStream(id)
			if !begun || i%3 > 0 || e.Position == 0 {
				continue
			}
			then, err := s.AsOf(t.Context(), archivist, id, service.When{Position: e.Position})
			require.NoError(t, err)
			then.Later = 0 // that the curator looks is an event itself
			text, err := json.Marshal(then)
			require.NoError(t, err)
			told = append(told, string(text))
		}
	}
	return told
}

// reassessedBy is what a higher confidence would do, without when it was found.
func reassessedBy(t *testing.T, s *service.Service, group string) review.Reassessment {
	t.Helper()
	key, job, err := s.PrepareReassessment(t.Context(), archivist, service.ReassessmentForm{Group: group, Confidence: 0.995})
	require.NoError(t, err)
	require.NoError(t, s.Do(t.Context(), job, nil))
	r, err := s.Reassessment(t.Context(), archivist, group, key)
	require.NoError(t, err)
	r.Dated = review.Dated{}
	return r
}

func allGrounds(t *testing.T, db *models.DB) (all []review.Grounds) {
	t.Helper()
	for after := ""; ; {
		rows, next, err := db.FindGrounds(t.Context(), after, 50)
		require.NoError(t, err)
		all = append(all, rows...)
		if after = next; next == "" {
			return all
		}
	}
}

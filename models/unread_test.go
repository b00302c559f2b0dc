package models_test

import (
	"bytes"
	"log/slog"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/blob"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/jobs"
	"revidit/review/service"
)

// harm makes rows of a crowd unreadable, and returns what figures of people, rechecks and walks through determinations are to
// name.
func harm(t *testing.T, db *models.DB) (testimonies, rechecks, determinations []string) {
	t.Helper()
	for _, statement := range []string{
		`UPDATE submissions SET body = '{"id": 3}' WHERE id = 'closed-0000000'`,
		`UPDATE submissions SET recheck = '"no"' WHERE id = 'closed-0000001'`,
		`UPDATE testimonies SET body = '{"people": 3}' WHERE specimen_id = 'closed-0000002'`,
		`UPDATE specimens SET body = '[]' WHERE id = 'open-0000000'`,
		`UPDATE submissions SET body = '{}' WHERE id = 'open-0000001'`,
	} {
		done, err := db.Raw().ExecContext(t.Context(), statement)
		require.NoError(t, err)
		n, err := done.RowsAffected()
		require.NoError(t, err)
		require.EqualValues(t, 1, n, statement)
	}
	return []string{"specimen/closed-0000002"}, []string{"submission/closed-0000001"}, []string{"specimen/open-0000000", "submission/open-0000001"}
}

// TestOneRowThatCannotBeRead keeps nobody from figures, previews and jobs, in a collection that is looked through at once
// and in one that jobs walk through; it is named, and Rebuild mends it.
func TestOneRowThatCannotBeRead(t *testing.T) {
	t.Parallel()
	for size, n := range map[string]int{"small": 20, "large": 230} {
		for name, open := range stores {
			t.Run(name+", "+size, func(t *testing.T) {
				db, tables := open(t), modelstest.Tables(t)
				modelstest.Crowd(t, db, tables, "closed", n, true)
				modelstest.Crowd(t, db, tables, "open", n, false)
				testimonies, rechecks, determinations := harm(t, db)
				var log bytes.Buffer
				s := service.NewService(db, &blob.Mem{}, service.NewLibrary(tables), service.Options{Log: slog.New(slog.NewTextHandler(&log, nil))})
				group := tables.Group.ID

				require.NoError(t, s.CatchUp(t.Context()))
				require.NoError(t, s.Do(t.Context(), jobs.Refit(group), nil))
				stored, err := db.Reliability(t.Context(), group)
				require.NoError(t, err)
				require.Equal(t, n-1, stored.Specimens)
				require.Equal(t, confidence.Of(confidence.LeftOut, "1:"+testimonies[0]), stored.Warnings[len(stored.Warnings)-1])

				agreement, _, err := s.Agreement(t.Context(), curator, group, review.Period{})
				require.NoError(t, err)
				require.Equal(t, n-1, agreement.Specimens)
				require.Equal(t, testimonies, agreement.Unread)
				calibration, err := s.Calibration(t.Context(), curator, group, review.Period{})
				require.NoError(t, err)
				require.Equal(t, n-1, calibration.Drawn)
				require.Equal(t, rechecks, calibration.Unread)
				doubted, err := s.Doubted(t.Context(), curator, group)
				require.NoError(t, err)
				if size == "large" {
					require.NoError(t, s.Do(t.Context(), jobs.Doubts(jobs.Pair{Group: group, To: tables.Hash}), nil))
					doubted, err = s.Doubted(t.Context(), curator, group)
					require.NoError(t, err)
				}
				require.Equal(t, n-2, doubted.Looked)
				require.ElementsMatch(t, determinations, doubted.Unread)
				require.Equal(t, n-2, assessed(t, db, tables, determinations...), "all others were assessed anew")
				for _, stream := range append(append(testimonies, rechecks...), determinations...) {
					require.Equal(t, 1, strings.Count(log.String(), "record="+stream), "%s in %s", stream, log.String())
				}

				for _, id := range []string{"closed-0000000", "open-0000000", "open-0000001"} {
					_, err := s.View(t.Context(), curator, id)
					require.Equal(t, review.KindDamaged, review.KindOf(err), id)
					require.ErrorContains(t, err, id)
					require.ErrorContains(t, err, "Nothing is lost")
					require.ErrorContains(t, err, "revidit rebuild")
				}
				requireMended(t, db, s, n)
			})
		}
	}
}

func requireMended(t *testing.T, db *models.DB, s *service.Service, n int) {
	t.Helper()
	require.NoError(t, db.Rebuild(t.Context()))
	require.NoError(t, s.CatchUp(t.Context()))
	tables := modelstest.Tables(t)
	group := tables.Group.ID
	require.NoError(t, s.Do(t.Context(), jobs.Refit(group), nil))
	require.NoError(t, s.Do(t.Context(), jobs.Reassess(group, tables.Hash), nil))
	for _, which := range []string{"agreement", "calibration"} {
		require.NoError(t, s.Do(t.Context(), jobs.Figures(jobs.Which{Group: group, Which: which}), nil))
	}
	agreement, _, err := s.Agreement(t.Context(), curator, group, review.Period{})
	require.NoError(t, err)
	require.Equal(t, n, agreement.Specimens)
	require.Empty(t, agreement.Unread)
	calibration, err := s.Calibration(t.Context(), curator, group, review.Period{})
	require.NoError(t, err)
	require.Equal(t, n, calibration.Drawn)
	require.Empty(t, calibration.Unread)
	require.Equal(t, n, assessed(t, db, tables))
	_, err = s.View(t.Context(), curator, "open-0000000")
	require.NoError(t, err)
}

// TestTestimoniesThatCannotBeMade keep nobody from making the others (see CompleteTestimonies).
func TestTestimoniesThatCannotBeMade(t *testing.T) {
	t.Parallel()
	for name, open := range stores {
		t.Run(name, func(t *testing.T) {
			db, tables := open(t), modelstest.Tables(t)
			modelstest.Crowd(t, db, tables, "closed", 10, true)
			harmed := []string{`UPDATE testimonies SET body = ''`, `UPDATE specimens SET body = '"no"' WHERE id = 'closed-0000003'`}
			for _, statement := range harmed {
				_, err := db.Raw().ExecContext(t.Context(), statement)
				require.NoError(t, err)
			}
			s, group := newService(db, tables), tables.Group.ID
			require.NoError(t, s.Do(t.Context(), jobs.Learn(group), nil))
			known, err := db.Reliability(t.Context(), group)
			require.NoError(t, err)
			require.Len(t, known.Added, 9)
			require.NoError(t, db.Rebuild(t.Context()))
			require.NoError(t, s.Do(t.Context(), jobs.Learn(group), nil))
			known, err = db.Reliability(t.Context(), group)
			require.NoError(t, err)
			require.Len(t, known.Added, 10)
		})
	}
}

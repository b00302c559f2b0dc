package models_test

import (
	"bytes"
	"encoding/json"
	"log/slog"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/blob"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/diagnosis"
	"revidit/review/jobs"
	"revidit/review/service"
)

// harmed runs a statement that must change some rows.
func harmed(t *testing.T, db *models.DB, statement string) {
	t.Helper()
	done, err := db.Raw().ExecContext(t.Context(), statement)
	require.NoError(t, err)
	n, err := done.RowsAffected()
	require.NoError(t, err)
	require.Positive(t, n, statement)
}

// requireDamaged requires an error that says which stored copy cannot be read, and what to do.
func requireDamaged(t *testing.T, err error, which, remedy string) {
	t.Helper()
	require.Equal(t, review.KindDamaged, review.KindOf(err), "%v", err)
	require.ErrorContains(t, err, which)
	require.ErrorContains(t, err, remedy)
}

// TestPeopleThatCannotBeRead: what is known of people is worked out from its events meanwhile, so that no number is another
// one, nothing is learnt upon a guess, and curators hear of it.
func TestPeopleThatCannotBeRead(t *testing.T) {
	t.Parallel()
	for row, statement := range map[string]string{
		"a person":  `UPDATE reliability_people SET body = '[]' WHERE person = 'reviewer-3'`,
		"a group":   `UPDATE reliabilities SET body = '[]'`,
		"everybody": `UPDATE reliability_people SET body = '"no"'`,
	} {
		for name, open := range stores {
			t.Run(name+", "+row, func(t *testing.T) {
				db, tables := open(t), modelstest.Tables(t)
				group := tables.Group.ID
				modelstest.Crowd(t, db, tables, "closed", 60, true)
				modelstest.Crowd(t, db, tables, "open", 20, false)
				var log bytes.Buffer
				s := service.NewService(db, &blob.Mem{}, service.NewLibrary(tables), service.Options{Log: slog.New(slog.NewTextHandler(&log, nil))})
				policy := review.DefaultPolicy()
				policy.ReliabilityShown, policy.Reason = review.ShownNames, "for the test"
				_, err := s.SetPolicy(t.Context(), curator, service.AnyVersion, policy)
				require.NoError(t, err)
				require.NoError(t, s.Do(t.Context(), jobs.Learn(group), nil))
				seen := func() (review.Reliability, string) {
					known, _, err := s.Reliability(t.Context(), curator, group)
					require.NoError(t, err)
					views := ""
					for _, id := range []string{"open-0000000", "open-0000007"} {
						v, err := s.View(t.Context(), review.Actor{Person: "ada", Role: review.RoleMember}, id)
						require.NoError(t, err)
						text, err := json.Marshal(v)
						require.NoError(t, err)
						views += string(text)
					}
					return known, views
				}
				before, views := seen()
				require.NotEmpty(t, before.People["reviewer-3"].Regions)
				harmed(t, db, statement)
				known, again := seen()
				require.Equal(t, views, again, "no number is another one")
				require.Equal(t, before.People, known.People)
				require.Equal(t, before.Version, known.Version)
				require.Contains(t, string(known.Warnings[len(known.Warnings)-1]), confidence.FromHistory)
				require.Contains(t, log.String(), "record=reliability/"+group)
				lines := strings.Count(log.String(), "cannot be read")
				seen()
				require.Equal(t, lines, strings.Count(log.String(), "cannot be read"), "told once")

				// What is learnt further rests on what was known.
				modelstest.Crowd(t, db, tables, "later", 10, true)
				require.NoError(t, s.Do(t.Context(), jobs.Learn(group), nil))
				events, err := db.Events(t.Context(), review.ReliabilityStream(group))
				require.NoError(t, err)
				whole, err := review.ReplayReliability(group, events)
				require.NoError(t, err)
				require.NoError(t, db.Rebuild(t.Context()))
				known, _, err = s.Reliability(t.Context(), curator, group)
				require.NoError(t, err)
				require.Equal(t, whole, known)
				require.Empty(t, known.Unread)
			})
		}
	}
}

// TestPolicyThatCannotBeRead: nothing settles by another one in its place.
func TestPolicyThatCannotBeRead(t *testing.T) {
	t.Parallel()
	for name, open := range stores {
		t.Run(name, func(t *testing.T) {
			db, tables := open(t), modelstest.Tables(t)
			modelstest.Crowd(t, db, tables, "open", 3, false)
			s := newService(db, tables)
			policy := review.DefaultPolicy()
			policy.Reason = "for the test"
			_, err := s.SetPolicy(t.Context(), curator, service.AnyVersion, policy)
			require.NoError(t, err)
			harmed(t, db, `UPDATE policies SET body = '[]'`)
			_, err = s.Policy(t.Context())
			requireDamaged(t, err, "policy 1", "revidit rebuild")
			_, err = s.View(t.Context(), curator, "open-0000000")
			requireDamaged(t, err, "policy 1", "revidit rebuild")
			_, err = s.Doubted(t.Context(), curator, tables.Group.ID)
			requireDamaged(t, err, "policy 1", "revidit rebuild")
			require.NoError(t, db.Rebuild(t.Context()))
			policy, err = s.Policy(t.Context())
			require.NoError(t, err)
			require.Equal(t, "for the test", policy.Reason)
			_, err = s.View(t.Context(), curator, "open-0000000")
			require.NoError(t, err)
		})
	}
}

// published stores a release of tables without looking into it.
func published(t *testing.T, db *models.DB, group, hash string, files map[string]string) {
	t.Helper()
	at := time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)
	release := review.Release{Group: group, Version: "2", Hash: hash, Seq: 1, By: "cora", At: at, Files: files}
	told := release
	told.Files = nil
	require.NoError(t, db.Commit(t.Context(), review.Batch{Release: &release, Events: []review.Event{{Stream: review.TablesStream(group), Seq: 1,
		At: at, Actor: "cora", Role: review.RoleCurator, Change: &review.TablesReleased{Release: told}}}}))
}

// TestReleaseThatCannotBeRead: the tables in force are not replaced by others.
func TestReleaseThatCannotBeRead(t *testing.T) {
	t.Parallel()
	for name, open := range stores {
		t.Run(name, func(t *testing.T) {
			db, tables := open(t), modelstest.Tables(t)
			group := tables.Group.ID
			modelstest.Crowd(t, db, tables, "open", 3, false)
			folder, err := diagnosis.Released(tables.Folder(), "2", "made up")
			require.NoError(t, err)
			_, err = newService(db, tables).Import(t.Context(), curator, folder)
			require.NoError(t, err)
			hash, err := db.CurrentRelease(t.Context(), group)
			require.NoError(t, err)
			require.NotEqual(t, tables.Hash, hash)
			changeable(t, db, name)
			for _, column := range []string{"files", "body"} {
				harmed(t, db, `UPDATE releases SET `+column+` = '[]'`)
				_, err = newService(db, tables).View(t.Context(), curator, "open-0000000")
				requireDamaged(t, err, "release "+hash, "from a backup")
			}
			_, err = db.Releases(t.Context(), group)
			requireDamaged(t, err, "release "+hash, "from a backup")
			requireDamaged(t, db.Rebuild(t.Context()), "release "+hash, "from a backup")
		})
	}
}

// changeable takes away what keeps releases from being changed, as a damaged file does.
func changeable(t *testing.T, db *models.DB, dialect string) {
	t.Helper()
	statement := "ALTER TABLE releases DISABLE TRIGGER ALL"
	if dialect == "SQLite" {
		statement = "DROP TRIGGER releases_refuse_update"
	}
	_, err := db.Raw().ExecContext(t.Context(), statement)
	require.NoError(t, err)
}

// TestTablesOfClosedOnesThatCannotBeRead keep nobody from hearing what is doubted of all others.
func TestTablesOfClosedOnesThatCannotBeRead(t *testing.T) {
	t.Parallel()
	for name, open := range stores {
		t.Run(name, func(t *testing.T) {
			db, tables := open(t), modelstest.Tables(t)
			group := tables.Group.ID
			modelstest.Crowd(t, db, tables, "closed", 5, true)
			harmed(t, db, `UPDATE submissions SET status = 'confirmed', body = replace(replace(body, '"status":"undetermined"', '"status":"confirmed"'), 'of-nobody', 'former')`)
			published(t, db, group, "former", map[string]string{"a": "b"})
			changeable(t, db, name)
			harmed(t, db, `UPDATE releases SET files = '[]'`)
			s := newService(db, tables)
			harmed(t, db, `UPDATE releases SET group_id = 'another'`) // no more in force
			doubted, err := s.Doubted(t.Context(), curator, group)
			require.NoError(t, err)
			require.Equal(t, 5, doubted.Looked)
			require.Equal(t, []string{"release/former"}, doubted.Unread)
		})
	}
}

// TestFindingsThatCannotBeRead are made anew, and the walk that has lost what it had found so far begins again.
func TestFindingsThatCannotBeRead(t *testing.T) {
	t.Parallel()
	for name, open := range stores {
		t.Run(name, func(t *testing.T) {
			const n = 230 // more than is looked through at once
			db, tables := open(t), modelstest.Tables(t)
			group := tables.Group.ID
			modelstest.Crowd(t, db, tables, "closed", n, true)
			modelstest.Crowd(t, db, tables, "open", n, false)
			var log bytes.Buffer
			s := service.NewService(db, &blob.Mem{}, service.NewLibrary(tables), service.Options{Log: slog.New(slog.NewTextHandler(&log, nil))})
			work := func() {
				for _, which := range []string{"agreement", "calibration"} {
					require.NoError(t, s.Do(t.Context(), jobs.Figures(jobs.Which{Group: group, Which: which}), nil))
				}
				require.NoError(t, s.Do(t.Context(), jobs.Reassess(group, tables.Hash), nil))
				require.NoError(t, s.Do(t.Context(), jobs.Doubts(jobs.Pair{Group: group, To: tables.Hash}), nil))
				require.NoError(t, s.Do(t.Context(), jobs.Refit(group), nil))
				require.NoError(t, s.Do(t.Context(), jobs.Check(), nil))
			}
			work()
			harmed(t, db, `UPDATE findings SET body = '[3]'`)
			agreement, _, err := s.Agreement(t.Context(), curator, group, review.Period{})
			require.NoError(t, err)
			require.Zero(t, agreement.Specimens)
			require.True(t, agreement.MadeAt.IsZero(), "not worked out")
			_, err = s.Calibration(t.Context(), curator, group, review.Period{})
			require.NoError(t, err)
			_, err = s.Doubted(t.Context(), curator, group)
			require.NoError(t, err)
			_, err = s.Checked(t.Context(), curator)
			require.NoError(t, err)
			due, err := s.DueJobs(t.Context())
			require.NoError(t, err)
			for _, job := range []jobs.Job{jobs.Figures(jobs.Which{Group: group, Which: "agreement"}), jobs.Figures(jobs.Which{Group: group, Which: "calibration"})} {
				require.Contains(t, due, job)
			}
			require.Contains(t, log.String(), "record=finding/agreement/"+group+"/")
			work()
			agreement, _, err = s.Agreement(t.Context(), curator, group, review.Period{})
			require.NoError(t, err)
			require.Equal(t, n, agreement.Specimens)

			harmed(t, db, `UPDATE findings SET partial = '"no"'`)
			for _, job := range []jobs.Job{jobs.Refit(group), jobs.Doubts(jobs.Pair{Group: group, To: tables.Hash})} {
				step, err := s.DoSlice(t.Context(), jobs.Slice{Job: job, Cursor: json.RawMessage(`{"after": "lost"}`)})
				require.NoError(t, err, job.Kind)
				require.Positive(t, step.Done, job.Kind)
			}
		})
	}
}

// TestDraftThatCannotBeRead keeps its owner from that draft alone.
func TestDraftThatCannotBeRead(t *testing.T) {
	t.Parallel()
	for name, open := range stores {
		t.Run(name, func(t *testing.T) {
			db, tables := open(t), modelstest.Tables(t)
			modelstest.Crowd(t, db, tables, "open", 1, false)
			s := newService(db, tables)
			ada := review.Actor{Person: "ada", Name: "Ada", Role: review.RoleMember}
			draft, err := s.Draft(t.Context(), ada, review.SubmissionForm{Specimen: "open-0000000"}, "")
			require.NoError(t, err)
			harmed(t, db, `UPDATE drafts SET body = '{"id": 3}'`)
			_, err = s.View(t.Context(), ada, draft.ID)
			requireDamaged(t, err, draft.ID, "no history")
			_, err = s.View(t.Context(), ada, "open-0000000")
			require.NoError(t, err)
			require.NoError(t, db.Rebuild(t.Context()))
			lines, _, err := s.Find(t.Context(), ada, service.SubmissionFilter{Status: review.StatusDraft}, service.Page{})
			require.NoError(t, err)
			require.Len(t, lines, 1)
		})
	}
}

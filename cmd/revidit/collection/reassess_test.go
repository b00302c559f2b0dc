package collection_test

import (
	"io/fs"
	"math"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/blob"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/jobs"
	"revidit/review/judgement"
	"revidit/review/service"
)

var curator = review.Actor{Person: "cora", Role: review.RoleCurator}

// otherTables are those of the program with some cells changed: of the first characters of families with many species two words change
// places.
func otherTables(t *testing.T) fs.FS {
	tables := diagnosis.Default()
	folder, changed := tables.Folder(), 0
	for i := range tables.Families {
		for _, character := range []string{"antenna-form", "body-form", "pronotum-width"} {
			edit, written, err := diagnosis.Written(folder, tables.Families[i].Name, "", character)
			require.NoError(t, err)
			if tables.Families[i].Species < 10_000 || !written || len(edit.States) < 2 || edit.States[0].Word == edit.States[1].Word {
				continue
			}
			edit.States[0].Word, edit.States[1].Word = edit.States[1].Word, edit.States[0].Word
			folder, err = diagnosis.Edited(folder, []diagnosis.CellEdit{edit})
			require.NoError(t, err)
			changed++
		}
	}
	require.Greater(t, changed, 5)
	return folder
}

// way is how a determination is touched, as the whole records tell it.
type way struct {
	submission string
	effect     review.Touch
}

// expected are the ways of all settled determinations, by whole assessments of whole records.
func expected(t *testing.T, db *models.DB, from, to review.Scales) (map[way]float64, int) {
	t.Helper()
	ways, n := map[way]float64{}, 0
	assess := func(by review.Scales, d *service.Determined, siblings []review.Submission) judgement.Assessment {
		w := review.Weighing{People: by.People, List: by.Policy.Prior(by.Judge.Tables())}
		return w.Assess(by.Judge, &d.Submission, &d.Specimen, siblings)
	}
	found, _, err := db.FindDeterminations(t.Context(), service.DeterminationFilter{Group: from.Judge.Tables().Group.ID}, service.Page{Size: 10_000})
	require.NoError(t, err)
	for i := range found {
		d := &found[i]
		if d.Submission.Status != review.StatusConfirmed {
			continue
		}
		n++
		closed := slices.DeleteFunc(slices.Clone(d.Siblings), func(s review.Submission) bool { return !s.Closed() })
		before, after := assess(from, d, closed), assess(to, d, closed)
		difference := judgement.DifferenceOf(before, after)
		if len(difference.New) > 0 {
			ways[way{d.Submission.ID, review.TouchNew}] = after.Confidence
		}
		if len(difference.Gone) > 0 {
			ways[way{d.Submission.ID, review.TouchGone}] = after.Confidence
		}
		if before.Confidence >= from.Policy.Confidence && after.Confidence < to.Policy.Confidence {
			ways[way{d.Submission.ID, review.TouchBelow}] = after.Confidence
		}
	}
	return ways, n
}

// TestReassessment: what the compact grounds tell, in slices and gone on with by another process, is what whole assessments of whole
// records tell; what is picked comes before reviewers again, once.
func TestReassessment(t *testing.T) {
	moulds, err := lived()
	require.NoError(t, err)
	for name, open := range map[string]func(testing.TB) *models.DB{"SQLite": func(t testing.TB) *models.DB { return modelstest.SQLite(t) },
		"Postgres": func(t testing.TB) *models.DB { return modelstest.Postgres(t) }} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			db := open(t)
			require.NoError(t, db.Fill(t.Context(), moulds.Of(150, 1, time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC), "no hash").Fillings(func(int, int) {})))
			newService := func() *service.Service {
				return service.NewService(db, &blob.Mem{}, service.NewLibrary(diagnosis.All()...), service.Options{})
			}
			s, group := newService(), diagnosis.Default().Group.ID
			policy, err := db.Policy(t.Context())
			require.NoError(t, err)
			people, err := db.Reliability(t.Context(), group)
			require.NoError(t, err)
			from := review.Scales{Judge: review.NewJudge(diagnosis.Default()), Policy: policy, People: &people}
			other, problems := diagnosis.Load(otherTables(t))
			require.Empty(t, problems)
			none := review.NewReliability(group)

			stricter := policy
			stricter.Confidence = 0.97
			zero := 0
			var cells review.Reassessment
			for what, c := range map[string]struct {
				form service.ReassessmentForm
				to   review.Scales
			}{
				"cells":       {service.ReassessmentForm{Folder: otherTables(t)}, review.Scales{Judge: review.NewJudge(other), Policy: policy, People: &people}},
				"confidence":  {service.ReassessmentForm{Confidence: 0.97}, review.Scales{Judge: from.Judge, Policy: stricter, People: &people}},
				"people":      {service.ReassessmentForm{Reliability: &zero}, review.Scales{Judge: from.Judge, Policy: policy, People: &none}},
				"first rules": {service.ReassessmentForm{Policy: &zero}, review.Scales{Judge: from.Judge, Policy: review.DefaultPolicy(), People: &people}},
			} {
				want, n := expected(t, db, from, c.to)
				key, job, err := s.PrepareReassessment(t.Context(), curator, c.form)
				require.NoError(t, err, what)
				step, err := s.DoSlice(t.Context(), jobs.Slice{Job: job, Try: 6, Stop: func() bool { return true }})
				require.NoError(t, err)
				require.NoError(t, db.Commit(t.Context(), step.Batch))
				require.True(t, step.More)
				under, err := s.Reassessment(t.Context(), curator, group, key)
				require.NoError(t, err)
				require.True(t, under.MadeAt.IsZero())
				require.Positive(t, under.Walk.Done)
				goes := s
				if what != "cells" { // tables that nobody has published are known to the process that was given them
					goes = newService()
				}
				require.NoError(t, goes.Do(t.Context(), job, nil))
				r, err := s.Reassessment(t.Context(), curator, group, key)
				require.NoError(t, err)
				require.Nil(t, r.Walk)
				require.Equal(t, n, r.Looked, what)
				got := map[way]float64{}
				for _, g := range r.Groups {
					found, err := db.FindTouched(t.Context(), key, g.Effect, g.Cause.Key(), "", 10_000)
					require.NoError(t, err)
					require.Len(t, found, g.N)
					for _, touched := range found {
						got[way{touched.Submission, g.Effect}] = touched.After
					}
				}
				require.Equal(t, want, got, what)
				if what == "cells" {
					require.NotEmpty(t, got)
					cells = r
				}
			}
			_, _, err = s.PrepareReassessment(t.Context(), curator, service.ReassessmentForm{})
			require.ErrorContains(t, err, "nothing to compare")
			_, _, err = s.PrepareReassessment(t.Context(), review.Actor{Person: "rita", Role: review.RoleReviewer}, service.ReassessmentForm{Confidence: 0.9})
			require.Equal(t, review.KindForbidden, review.KindOf(err))
			requireReviewsOpen(t, db, s, group, cells)

			differences, err := db.RebuildCompared(t.Context())
			require.NoError(t, err)
			for _, d := range differences {
				require.True(t, d.Table != "grounds" || d.None(), "%+v", d) // made with the acts as a rebuild makes them
			}
		})
	}
}

// requireReviewsOpen picks the largest group twice and finds each of its determinations opened once.
func requireReviewsOpen(t *testing.T, db *models.DB, s *service.Service, group string, r review.Reassessment) {
	t.Helper()
	g := r.Groups[0]
	require.Contains(t, []review.CauseKind{review.CauseCell, review.CauseCharacter}, g.Cause.Kind)
	picking := service.Picking{Groups: []review.TouchGroup{{Effect: g.Effect, Cause: g.Cause.Key()}}, Reason: "the table has changed"}
	for range 2 {
		job, err := s.PrepareReviews(t.Context(), curator, group, r.Key, picking)
		require.NoError(t, err)
		require.NoError(t, s.Do(t.Context(), job, nil))
	}
	found, err := db.FindTouched(t.Context(), r.Key, g.Effect, g.Cause.Key(), "", 10_000)
	require.NoError(t, err)
	for _, touched := range found {
		require.True(t, touched.Opened)
		require.False(t, math.IsNaN(touched.After))
		events, err := db.Events(t.Context(), review.SubmissionStream(touched.Submission))
		require.NoError(t, err)
		opened := 0
		for _, e := range events {
			if c, ok := e.Change.(*review.Reopened); ok && c.Reassessment == r.Key {
				require.Equal(t, curator.Person, e.Actor)
				require.Equal(t, picking.Reason, c.Reason)
				opened++
			}
		}
		require.Equal(t, 1, opened)
	}
	after, err := s.Reassessment(t.Context(), curator, group, r.Key)
	require.NoError(t, err)
	require.Equal(t, g.N, after.Groups[0].Opened)
	_, err = s.PrepareReviews(t.Context(), curator, group, r.Key, service.Picking{Reason: "none"})
	require.ErrorContains(t, err, "pick what is to be reviewed")
}

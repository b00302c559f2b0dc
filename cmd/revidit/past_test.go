package main

import (
	"fmt"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/blob"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/service"
)

// TestTheWholePastComesOutAgain: every assessment that was ever stored of the demo's submissions, which is what stood at every position of
// their histories, is computed again from what is stored alone, and is equal to twelve digits: where the demo was made, and in PostgreSQL.
func TestTheWholePastComesOutAgain(t *testing.T) {
	madeUp.serve(t)
	data := filepath.Join(madeUp.folder, "club")
	done := runHere(t, "", "remake", "--data", data)
	require.Equal(t, 0, done.code, done.err+done.out)
	require.Regexp(t, `^assessments=(\d{3,}) again=(\d{3,}) kept=0 differ=0\n$`, done.out)

	db := carryOver(t, filepath.Join(data, "revidit.sqlite"), modelstest.EmptyPostgresURL(t))
	s := service.NewService(db, &blob.Mem{}, service.NewLibrary(diagnosis.All()...), service.Options{})
	again := 0
	require.NoError(t, eachSubmission(t.Context(), db, func(id string) error {
		made, err := s.Remake(t.Context(), id)
		for _, m := range made {
			require.True(t, m.Again, "%s at position %d: %s", id, m.Position, m.Why)
			again++
		}
		return err
	}))
	require.Contains(t, done.out, fmt.Sprintf("again=%d ", again), "as many as where it was made")
}

// carryOver stores the events of a database in another one, one after the other, with the files of its releases.
func carryOver(t *testing.T, from, to string) *models.DB {
	t.Helper()
	ctx := t.Context()
	source, err := models.Open(ctx, from)
	require.NoError(t, err)
	defer func() { require.NoError(t, source.Close()) }()
	target, err := models.Open(ctx, to)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, target.Close()) })
	require.NoError(t, target.Migrate(ctx))
	for position := int64(0); ; {
		events, err := source.EventsAfter(ctx, position, 500)
		require.NoError(t, err)
		if len(events) == 0 {
			break
		}
		for _, e := range events {
			batch := review.Batch{Events: []review.Event{e.Event}}
			if added, ok := e.Change.(*review.PhotosAdded); ok {
				for _, photo := range added.Photos {
					photo.View = ""
					require.NoError(t, target.SaveUpload(ctx, review.Upload{Photo: photo}))
				}
			}
			if released, ok := e.Change.(*review.TablesReleased); ok {
				release, err := source.Release(ctx, released.Release.Hash)
				require.NoError(t, err)
				batch.Release = &release
			}
			require.NoError(t, target.Commit(ctx, batch))
			position = e.Position
		}
	}
	for left := true; left; {
		left, err = target.NumberEvents(ctx)
		require.NoError(t, err)
	}
	require.NoError(t, target.Rebuild(ctx))
	return target
}

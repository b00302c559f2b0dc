package collection_test

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/cmd/revidit/collection"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/service"
)

// lived are moulds that tests share.
var lived = sync.OnceValues(func() (*collection.Moulds, error) {
	return collection.Live(context.Background(), 1, 60, func(int, int) {})
})

// TestCollection: what is filled in is what its events make, has the shares of a club with a backlog, and about twelve
// events for each submission.
func TestCollection(t *testing.T) {
	moulds, err := lived()
	require.NoError(t, err)
	db := modelstest.SQLite(t)
	const wanted = 600
	submissions, events := 0, 0
	c := moulds.Of(wanted, 1, time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC), "no hash")
	require.Equal(t, 100, c.People())
	require.NoError(t, db.Fill(t.Context(), c.Fillings(func(s, e int) { submissions, events = s, e })))
	require.InDelta(t, wanted, submissions, 3)
	require.InDelta(t, 12, float64(events)/float64(submissions), 2)

	before := linesOf(t, db)
	require.Len(t, before, submissions)
	byStatus := map[review.Status]int{}
	for _, l := range before {
		byStatus[l.Status]++
		require.True(t, l.ChangedAt.Before(time.Date(2026, 6, 1, 0, 0, 1, 0, time.UTC)))
	}
	require.InDelta(t, wanted/20, byStatus[review.StatusOpen], 5)
	require.NotZero(t, byStatus[review.StatusReturned])
	require.NotZero(t, byStatus[review.StatusDraft])
	require.Greater(t, byStatus[review.StatusConfirmed], wanted/4)
	found, err := db.RebuildCompared(t.Context())
	require.NoError(t, err)
	for _, d := range found {
		require.True(t, d.None(), "what was told again is what its events make: %+v", d)
	}
	require.Equal(t, before, linesOf(t, db), "rebuilt rows differ")
}

// linesOf are all submissions, drafts of everybody too.
func linesOf(t *testing.T, db service.Reader) (all []service.SubmissionLine) {
	t.Helper()
	people, err := db.FindPeople(t.Context(), service.PeopleFilter{}, 200)
	require.NoError(t, err)
	for _, p := range people {
		for page := (service.Page{Size: 200}); ; {
			lines, next, err := db.FindSubmissions(t.Context(), service.SubmissionFilter{Viewer: p.ID, Owner: p.ID}, page)
			require.NoError(t, err)
			all = append(all, lines...)
			if page.Cursor = next; next == "" {
				break
			}
		}
	}
	return all
}

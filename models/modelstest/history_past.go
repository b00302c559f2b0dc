package modelstest

import (
	"github.com/stretchr/testify/require"
)

// requirePastAgain: every assessment that was ever stored comes out again, to twelve digits.
func (w *world) requirePastAgain() {
	w.Helper()
	fixture{w.T, w.db}.numberAll()
	again := 0
	for _, id := range w.specimens {
		submissions, err := w.db.SubmissionsOf(w.Context(), id)
		require.NoError(w, err)
		for _, s := range submissions {
			made, err := w.service.Remake(w.Context(), s.ID)
			require.NoError(w, err)
			for _, m := range made {
				require.True(w, m.Again, "%s at position %d: %s", s.ID, m.Position, m.Why)
				again++
			}
		}
	}
	require.Positive(w, again)
}

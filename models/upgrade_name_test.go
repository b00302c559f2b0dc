package models_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/review"
	"revidit/review/service"
)

// What was left undetermined before the reason stood with it says why, as its events do; a qualifier that was written before
// anybody asked for the doubted word stands before the whole name.
func TestSubmissionsOfATimeBeforeTheDoubtedWord(t *testing.T) {
	t.Parallel()
	const at, unix = "'2026-05-14T12:00:00.000000Z'", "1778760000"
	rows := append([]string{beforeGroups[0], beforeGroups[3]}, submissionBefore("closed", "undetermined", at, unix, fmt.Sprintf(draftedBefore, "closed", "ada")+submittedBefore+
		assessedBefore+"\n"+`bob undetermined {"reason":"too soon"}`+"\n"+`cora reopened {"reason":"x"}`+"\n"+`bob undetermined {"reason":"worn, \"quoted\""}`,
		`{"id":"closed","status":"undetermined","determination":{"family":"Elateridae","determiner":"ada"},"gain":1e-7}`)...)
	for name, c := range formers {
		t.Run(name, func(t *testing.T) {
			db := c.upgraded(t, 7, rows)
			requireWhy(t, db)
			require.NoError(t, db.Rebuild(t.Context()))
			requireWhy(t, db)
		})
	}
}

func requireWhy(t *testing.T, db *models.DB) {
	t.Helper()
	s, err := db.Submission(t.Context(), "closed")
	require.NoError(t, err)
	require.Equal(t, review.StatusUndetermined, s.Status)
	require.Equal(t, `worn, "quoted"`, s.Undeterminable)
	lines, _, err := db.FindSubmissions(t.Context(), service.SubmissionFilter{}, service.Page{Size: 5})
	require.NoError(t, err)
	require.Len(t, lines, 1)
	require.Empty(t, lines[0].Doubted)
}

package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
	"revidit/review/service"
)

// A member of whom nothing is known submits a tortoise beetle: the page asks first whether it is a beetle, says what it is most
// like as a hint, and what a look takes.
func TestHintsOnASubmission(t *testing.T) {
	club := newAPIClubWith(t, diagnosis.All())
	form := map[string]any{"group": "coleoptera-adults", "family": "Chrysomelidae", "label": map[string]any{"catalogue_number": "T-1"}, "withheld": map[string]any{},
		"observations": []map[string]any{{"character": "head-from-above", "state": "hidden"}, {"character": "body-form", "state": "hemispherical"},
			{"character": "antenna-form", "state": "clavate"}, {"character": "tarsi-counted", "state": "4-4-4"}, {"character": "tarsus-lobed", "state": "yes"}}}
	v := club.call("ada", http.MethodPost, "/api/v1/submissions", form).is(http.StatusCreated).view()
	require.Contains(t, v.Assessment.Forms[0].Name, "tortoise beetles")
	require.Equal(t, "insect-orders", v.Assessment.Next[0].Group)
	require.Equal(t, "rostrum", v.Assessment.Next[3].Character)

	text := club.page("ada", "/submissions/"+v.Submission.ID, 200)
	for _, words := range []string{"it is most like", "tortoise beetles and hispines", "A hint, and no determination.",
		"First make sure that it belongs to Coleoptera at all", `href="/tables/insect-orders/characters/`, "glances"} {
		require.Contains(t, text, words)
	}
	require.NotContains(t, club.page("rita", "/submissions/"+reviewers(club)+"", 200), "First make sure", "a reviewer's own are not asked so")
}

// reviewers is a submission by a reviewer.
func reviewers(club *apiClub) string {
	form := map[string]any{"group": "coleoptera-adults", "family": "Elateridae", "label": map[string]any{"catalogue_number": "T-2"}, "withheld": map[string]any{},
		"observations": []map[string]any{{"character": "prosternal-process", "state": "click-spine"}, {"character": "antenna-form", "state": "serrate"}}}
	return decoded[service.SubmissionView](club.call("rita", http.MethodPost, "/api/v1/submissions", form).is(http.StatusCreated)).Submission.ID
}

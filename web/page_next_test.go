package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// A member of whom nothing is known submits a tortoise beetle: the page asks first whether it is a beetle, says what it is most
// like as a hint, and what a look takes.
func TestHintsOnASubmission(t *testing.T) {
	club := newAPIClubWith(t, diagnosis.All())
	form := beetle(club, "ada", "Chrysomelidae", map[string]string{"head-from-above": "hidden", "body-form": "broad", "antenna-form": "filiform",
		"tarsi-counted": "4-4-4", "tarsus-lobed": "yes", "antenna-insertion": "front-of-head"})
	v := club.call("ada", http.MethodPost, "/api/v1/submissions", form).is(http.StatusCreated).view()
	require.Contains(t, v.Assessment.Forms[0].Name, "tortoise beetles")
	require.Equal(t, "insect-orders", v.Assessment.Next[0].Group)
	require.Equal(t, "rostrum", v.Assessment.Next[3].Character)

	text := club.page("ada", "/submissions/"+v.Submission.ID, 200)
	for _, words := range []string{"it is most like", "tortoise beetles and hispines", "A hint, and no determination.",
		"First make sure that it belongs to Coleoptera at all", `href="/tables/insect-orders/characters/`, "glances"} {
		require.Contains(t, text, words)
	}
	own := beetle(club, "rita", "Elateridae", map[string]string{"prosternal-process": "click-spine", "antenna-form": "serrate"})
	hers := club.call("rita", http.MethodPost, "/api/v1/submissions", own).is(http.StatusCreated).view()
	require.NotContains(t, club.page("rita", "/submissions/"+hers.Submission.ID, 200), "First make sure", "a reviewer is not asked so")
}

// beetle is a submission of a beetle with a photo from above.
func beetle(club *apiClub, who, family string, stated map[string]string) map[string]any {
	form := club.form(who)
	form["group"], form["family"] = "coleoptera-adults", family
	form["photos"].([]any)[0].(map[string]any)["view"] = "whole-above"
	observations := []any{}
	for character, state := range stated {
		observations = append(observations, map[string]any{"character": character, "state": state})
	}
	form["observations"] = observations
	return form
}

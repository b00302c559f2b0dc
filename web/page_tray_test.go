package web

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
)

// TestAWholeTray: one label, many specimens, a photo for each as far as there are any; sent twice it makes no second ones, and
// a number that is wrong stores nothing.
func TestAWholeTray(t *testing.T) {
	club := newAPIClub(t)
	club.page("ada", "/submissions/tray", http.StatusOK)
	fields := url.Values{"numbers": {"T-08 to T-10\nX-1"}, "family": {"Elateridae"}, "label.country": {"Austria"}, "label.collected_from": {"yesterday"},
		"withheld.locality": {"A meadow"}, "key": {"tray"}, "do": {"begin"},
		"photos[0].photo": {club.upload("ada")}, "photos[0].view": {"below"}, "photos[1].photo": {club.upload("ada")}}
	bad := url.Values{"numbers": {"T-08\nT-08"}, "key": {"bad"}, "do": {"begin"}, "label.country": {"Austria"}}
	text := club.shown(club.postFiles("ada", "/submissions/tray", bad), http.StatusBadRequest)
	require.Contains(t, text, "stands there twice")
	require.Contains(t, text, `value="Austria"`)
	require.Empty(t, club.linesOf("ada"))

	for range 2 {
		require.Equal(t, "/submissions?mine=yes&status=draft", club.postFiles("ada", "/submissions/tray", fields).goesTo())
	}
	lines := club.linesOf("ada")
	require.Len(t, lines, 4)
	photos := map[string]int{}
	for _, line := range lines {
		v := club.viewOf("ada", line.ID)
		require.Equal(t, review.StatusDraft, v.Submission.Status)
		require.Equal(t, "Austria", v.Specimen.Label.Country)
		require.Equal(t, "A meadow", v.Withheld.Locality)
		require.Equal(t, "yesterday", v.Loose["label.collected_from"], "what cannot be taken stops nothing")
		photos[v.Specimen.Label.CatalogueNumber] = len(v.Submission.Photos)
	}
	require.Equal(t, map[string]int{"T-08": 1, "T-09": 1, "T-10": 0, "X-1": 0}, photos)
}

// TestTheLabelOfTheLastOneIsCopied: but for what is of that one specimen, and nobody else's can be.
func TestTheLabelOfTheLastOneIsCopied(t *testing.T) {
	club := newAPIClub(t)
	last := club.submitted()
	text := club.page("ada", beginPath, http.StatusOK)
	require.Contains(t, text, `name="copy" value="`+last.Submission.ID+`"`)
	fields := url.Values{"family": {"Elateridae"}, "label.catalogue_number": {"AB-2"}, "copy": {last.Submission.ID}, "key": {"c"}, "do": {"begin"}}
	club.postFiles("ada", beginPath, fields).goesTo()
	made := club.viewOf("ada", club.linesOf("ada")[0].ID)
	require.Equal(t, "AB-2", made.Specimen.Label.CatalogueNumber)
	require.Equal(t, "May trip", made.Specimen.Label.Trip)
	require.Equal(t, "A meadow", made.Withheld.Locality)
	fields.Set("key", "d")
	require.Contains(t, club.shown(club.postFiles("ben", beginPath, fields), http.StatusBadRequest), "of your own")
}

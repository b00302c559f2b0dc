package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

const fewFamilies = "make=1&family=Elateridae&family=Meloidae&family=Cantharidae"

// TestKeyPage: the key of ticked families is shown with its caution and its figures, and sent as PDF and JSON.
func TestKeyPage(t *testing.T) {
	club := newAPIClubWith(t, []*diagnosis.Tables{diagnosis.Default()})
	require.Contains(t, club.page("ada", "/tables/coleoptera-adults/key", http.StatusOK), "Make the key")
	shown := club.page("ada", "/tables/coleoptera-adults/key?"+fewFamilies, http.StatusOK)
	for _, want := range []string{"Key to 3 families", `id="c1"`, "cantharidin", "/key/booklet?", "Right endings, a beginner"} {
		require.Contains(t, shown, want)
	}
	club.page("ada", "/tables/coleoptera-adults/key?make=1&family=Elateridae", http.StatusBadRequest)
	club.page("ada", "/tables/coleoptera-adults/key?make=1&region=atlantis", http.StatusBadRequest)
	file := club.call("ada", "GET", "/tables/coleoptera-adults/key/booklet?"+fewFamilies, nil)
	require.Equal(t, http.StatusOK, file.status)
	require.Equal(t, http.StatusSeeOther, club.call("ada", "GET", "/key", nil).status)
}

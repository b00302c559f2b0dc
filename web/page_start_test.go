package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review/diagnosis"
	"revidit/web/pages"
)

// TestStartPage: whoever is not logged in reads what this is, sees a determination that the tables themselves have analysed, and finds
// the login; members find their own page at the same address.
func TestStartPage(t *testing.T) {
	club := newAPIClubWith(t, diagnosis.All())
	text := club.page("", "/", http.StatusOK)
	for _, words := range []string{"What a name on a pin rests on", `href="/login"`, "A member", "A reviewer", "A curator", "never in ", "Killing agents", "no certificate"} {
		require.Contains(t, text, words)
	}
	judge, err := club.server.Service.Judge(t.Context(), "coleoptera-adults")
	require.NoError(t, err)
	e, ok := judge.Example()
	require.True(t, ok)
	a := judge.Assess(e.Evidence(true))
	require.Contains(t, text, pages.Probability(t.Context(), a.Ranking[0].P), "the number is that of the assessment")
	require.Contains(t, text, `class="chosen"`, "the part that tells is red on the plate")
	require.NotContains(t, text, "/photos/")
	require.NotContains(t, text, "Invented")

	require.Contains(t, club.page("ada", "/", http.StatusOK), "Your specimens")
	small := newAPIClub(t, func(c *Config, _ *auth.Options) { c.Invented = []pages.InventedLogin{{Login: "ada", Name: "Ada"}} })
	text = small.page("", "/", http.StatusOK)
	require.NotContains(t, text, "looked through", "tables without plates have no example")
	require.Contains(t, text, "This is a demo")
}

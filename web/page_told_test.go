package web

import (
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

func toldAddress(list, family string) string {
	return "/tables/coleoptera-adults/told?" + url.Values{"list": {list}, "family": {family}}.Encode()
}

// TestListToldFreely: a list is read by words or ids, and what it leaves out tells something. A click beetle by its spine and saws, from
// memory, common practice; that no lustre was mentioned is among what weighs.
func TestListToldFreely(t *testing.T) {
	club := newAPIClubWith(t, []*diagnosis.Tables{diagnosis.Default()})
	require.Contains(t, club.page("ada", "/tables/coleoptera-adults", 200), `href="/tables/coleoptera-adults/told"`)
	require.Contains(t, club.page("ada", "/tables/coleoptera-adults/told", 200), "Nothing is stored")

	ids := "antenna-form: serrate\nprosternal-process:click-spine\r\n\n  tarsi-counted\t5-5-5\nbody-length-mm = 9,5\n"
	page := club.page("rita", toldAddress(ids, "Buprestidae"), 200)
	require.Regexp(t, `(?s)The five likeliest.*?<th scope="row">Elateridae</th>`, page)
	require.Contains(t, page, "What does not fit")
	require.Contains(t, page, `For Buprestidae, against <a href="/tables/coleoptera-adults/compare?a=Buprestidae&amp;b=Elateridae">Elateridae</a>`)
	require.Contains(t, page, "What to check next")
	require.Contains(t, page, "antenna-form: serrate", "what was typed is still there")

	words := club.page("rita", toldAddress("ANTENNA, outline: saw-like\nTarsi, segments as counted: 5-5-5\nBody, outline: parallel-sided", ""), 200)
	require.Contains(t, strings.ToLower(words), "no metallic lustre was mentioned")
}

// TestListThatCannotBeRead names each line that is wrong, and gives the list back.
func TestListThatCannotBeRead(t *testing.T) {
	club := newAPIClubWith(t, []*diagnosis.Tables{diagnosis.Default()})
	page := club.page("ada", toldAddress("antenna-form: serrate\nit is brown\nwings: two\nlustre: golden\nantenna-form: filiform\nbody-length-mm: <b>", "Nosuchidae"), 400)
	for _, problem := range []string{"line 2 has no colon", "line 3 names no character of these tables: wings", "line 4 cannot be taken", "line 5 says something of antenna-form a second time",
		"line 6 cannot be taken", "is not a family of these tables", "it is brown", "&lt;b&gt;"} {
		require.Contains(t, page, problem)
	}
	require.NotContains(t, page, "The five likeliest")
	require.NotContains(t, page, "<b>")
	require.Contains(t, club.page("ada", toldAddress("", "Elateridae"), 400), "names no character")
	require.Contains(t, club.page("ada", toldAddress(strings.Repeat("\n", 300), ""), 400), "more than 200 lines")
	require.Contains(t, club.page("ada", toldAddress(strings.Repeat("x", 8001), ""), 400), "longer than 8000")
	require.Equal(t, 404, club.call("ada", "GET", "/tables/no-such/told", nil).status)
	require.Equal(t, 303, club.call("", "GET", "/tables/coleoptera-adults/told", nil).status, "for people of the club")
}

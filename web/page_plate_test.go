package web

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// platedClub has the small group with one plate of two parts, and a second group without any.
func platedClub(t testing.TB) (*apiClub, *diagnosis.Tables) {
	t.Helper()
	files := contents(t)
	files["parts.yaml"] = `plates:
  - {id: above, title: From above, view: antenna}
parts:
  - id: antenna
    name: the <b>feeler</b>
    term: antenna
    definition: A jointed feeler.
    places: [{plate: above, at: [3, 3], side: left}]
  - id: club
    name: the club
    term: clava
    definition: Its last segments.
    within: antenna
    places: [{plate: above}]
    source: guide
    place: page 3
`
	files["plates/above.svg"] = `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 8 8" stroke="currentColor">
<title>A feeler</title><desc>A feeler with a club.</desc><!-- </svg><script>alert(1)</script> -->
<g class="antenna"><path fill="#fff" d="M0 0L8 8"/><g class="club"><path fill="#fff" d="M8 8L4 8"/></g></g></svg>`
	files["glossary.yaml"] = `terms:
  - id: serrate
    term: serrate
    name: saw-like
    definition: With teeth like a saw.
    states: {antenna-form: [serrate]}
    parts: [antenna]
`
	files["characters.yaml"] = strings.ReplaceAll(files["characters.yaml"], "    how:", "    parts: [club]\n    how:")
	tables := loaded(t, diagnosis.FromContents(files))
	return newAPIClubWith(t, []*diagnosis.Tables{tables, loaded(t, otherGroup(t))}), tables
}

func TestPlatePages(t *testing.T) {
	club, tables := platedClub(t)
	for _, page := range []struct {
		path     string
		status   int
		contains string
	}{
		{small + "/parts", 200, "A feeler with a club."},
		{small + "/parts?part=club", 200, "Source: A Guide, 1950. page 3."},
		{small + "/parts?part=antenna", 200, "Defined from memory."},
		{small + "/parts?character=antenna-form", 200, "Where it is: Antenna"},
		{small + "/parts?part=none", 404, "no such part"},
		{small + "/parts?character=none", 404, "no such character"},
		{"/tables/second-test-group/parts", 404, "no plates"},
		{small + "/glossary", 200, "With teeth like a saw."},
		{"/tables/second-test-group/glossary", 404, "explain no words"},
		{small + "/characters/antenna-form", 200, `href="/tables/small-test-group/glossary#word-club"`},
		{small + "/characters/antenna-form", 200, `href="/tables/small-test-group/glossary#word-serrate"`},
		{small + "/sheets/Elateridae", 200, `href="/tables/small-test-group/parts?character=antenna-form"`},
		{"/submissions/new?group=small-test-group", 200, `href="/tables/small-test-group/parts?character=antenna-form" target="_blank"`},
		{small, 200, `href="/glossary"`},
	} {
		require.Contains(t, club.page("ada", page.path, page.status), page.contains, page.path)
	}
	chosen := club.page("ada", small+"/parts?part=club", 200)
	require.Equal(t, 1, strings.Count(chosen, `<g class="chosen">`))
	require.NotContains(t, chosen, "<b>feeler")
	require.NotContains(t, chosen, "alert(1)")
	require.Contains(t, chosen, `<a tabindex="-1" href="/tables/small-test-group/parts?part=antenna"><title>the &lt;b&gt;feeler&lt;/b&gt;</title>`)
	require.Equal(t, 200, club.call("ada", "GET", "/plates/"+tables.Hash+"/above?part=club", nil).status)

	short := club.call("ada", "GET", "/glossary", nil)
	require.Equal(t, http.StatusSeeOther, short.status)
	require.Equal(t, small+"/glossary", short.header.Get("Location"))
	require.NotContains(t, club.page("ada", "/submissions/new?group=second-test-group", 200), "Where is it?")
}

func TestPlatesAsImages(t *testing.T) {
	club, tables := platedClub(t)
	r := club.call("ada", "GET", "/plates/"+tables.Hash[:16]+"/above?part=club", nil)
	require.Equal(t, "image/svg+xml", r.header.Get("Content-Type"))
	require.Equal(t, "default-src 'none'; style-src 'none'; sandbox", r.header.Get("Content-Security-Policy"))
	require.Contains(t, r.header.Get("Cache-Control"), "immutable")
	require.Equal(t, 1, strings.Count(string(r.body), "#b3240b"))
	for _, path := range []string{tables.Hash[:11] + "/above", tables.Hash + "/below", tables.Hash + "/above?part=none", strings.Repeat("0", 64) + "/above"} {
		require.Equal(t, 404, club.call("ada", "GET", "/plates/"+path, nil).status, path)
	}
	require.Equal(t, http.StatusSeeOther, club.browse("GET", "/plates/"+tables.Hash+"/above").Code, "after a login only")
}

func TestPartsByAPI(t *testing.T) {
	club, _ := platedClub(t)
	type body struct {
		Plates []PlateView
		Parts  []PartView
		Terms  []TermView
	}
	got := decoded[body](club.call("ada", "GET", "/api/v1/parts", nil).is(http.StatusOK))
	require.Equal(t, []PlateView{{ID: "above", Title: "From above", View: "antenna", Box: [4]float64{0, 0, 8, 8}}}, got.Plates)
	require.Equal(t, []PlaceView{{Plate: "above", At: &[2]float64{3, 3}}}, got.Parts[0].Places)
	require.Empty(t, got.Parts[0].Characters)
	require.Len(t, got.Parts[1].Characters, 6)
	require.Equal(t, []string{"guide", "page 3"}, []string{got.Parts[1].Source, got.Parts[1].Place})
	require.Equal(t, map[string][]string{"antenna-form": {"serrate"}}, got.Terms[0].States)
	none := decoded[body](club.call("ada", "GET", "/api/v1/parts?group=second-test-group", nil).is(http.StatusOK))
	require.Empty(t, none.Parts)
	character := decoded[struct{ Character CharacterView }](club.call("ada", "GET", "/api/v1/characters/antenna-form", nil).is(http.StatusOK))
	require.Equal(t, []string{"club"}, character.Character.Parts)
}

package web

import (
	"io/fs"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
	"revidit/review/service"
)

// contents are the files of the small tables, to be changed.
func contents(t testing.TB) map[string]string {
	t.Helper()
	files, err := diagnosis.Contents(smallTables())
	require.NoError(t, err)
	return files
}

const testDrawing = `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 8 8" role="img" color="#221e19" stroke="currentColor">
<title>A line</title><desc>One line.</desc><!-- </svg><script>alert(1)</script> --><path d="M0 0L8 8"/></svg>`

// drawnTables is the small group with a drawing of every state, and with markup in its texts.
func drawnTables(t testing.TB) fs.FS {
	t.Helper()
	files := contents(t)
	for _, state := range []string{"antenna-form/filiform", "antenna-form/serrate", "antenna-form/clavate", "antenna-elbowed/yes",
		"antenna-elbowed/no", "vesicles/present", "vesicles/absent"} {
		files["pictures/"+state+".svg"] = testDrawing
	}
	name := "families/Elateridae.yaml"
	files[name] = strings.Replace(files[name], "note: A note.", `note: "A <b>note</b>."`, 1)
	files[name] = strings.Replace(files[name], "characters:\n", "inseparable:\n  - {family: Buprestidae, because: \"a <i>worn</i> one\", needs: the larva}\ncharacters:\n", 1)
	require.Contains(t, files[name], "<b>note</b>")
	require.Contains(t, files[name], "inseparable")
	return diagnosis.FromContents(files)
}

// otherGroup is a second group: the same tables as orders of insects.
func otherGroup(t testing.TB) fs.FS {
	t.Helper()
	files := contents(t)
	for before, after := range map[string]string{"small-test-group": "second-test-group", "Two families for tests": "Two orders for tests",
		"taxon: Coleoptera": "taxon: Insecta", "rank: family": "rank: order"} {
		require.Contains(t, files["group.yaml"], before)
		files["group.yaml"] = strings.Replace(files["group.yaml"], before, after, 1)
	}
	return diagnosis.FromContents(files)
}

func drawnClub(t testing.TB) *apiClub {
	t.Helper()
	return newAPIClubWith(t, []*diagnosis.Tables{loaded(t, drawnTables(t)), loaded(t, otherGroup(t))})
}

// A drawing of a worked count stands on the page of the character and beside the field where it is stated.
func TestWorkedCountIsShown(t *testing.T) {
	files := contents(t)
	files["pictures/ventrites/counting.svg"] = testDrawing
	tables, problems := diagnosis.Load(diagnosis.FromContents(files))
	require.Empty(t, problems)
	club := newAPIClubWith(t, []*diagnosis.Tables{tables})
	for _, path := range []string{small + "/characters/ventrites", "/submissions/new?group=small-test-group"} {
		page := club.page("ada", path, 200)
		require.Contains(t, page, `<figure class="counting">`, path)
		require.Contains(t, page, "what is crossed out does not", path)
	}
	require.NotContains(t, club.page("ada", small+"/characters/antenna-form", 200), "counting")
	require.Equal(t, testDrawing, string(club.call("ada", "GET", "/api/v1/pictures/ventrites/counting.svg", nil).body))
}

const small = "/tables/small-test-group"

func TestTablePages(t *testing.T) {
	club := drawnClub(t)
	for _, page := range []struct {
		who, path string
		status    int
		contains  string
	}{
		{"ada", "/tables", 200, "Two orders for tests"},
		{"ada", small, 200, "2 families of Coleoptera in 6 characters"},
		{"ada", "/tables/second-test-group", 200, "2 orders of Insecta"},
		{"ada", "/tables/no-such", 404, "There is no group"},
		{"ada", small + "/sheets/Elateridae", 200, "Even specialists need the larva."},
		{"ada", small + "/sheets/Buprestidae", 200, "Not always to be told from"},
		{"ada", small + "/sheets/Nosuchidae", 404, "is not a family of these tables"},
		{"ada", "/tables/second-test-group/sheets/Nosuchidae", 404, "is not an order of these tables"},
		{"ada", small + "/characters/antenna-form", 200, "thread-like and saw-like: 4 times as often"},
		{"ada", small + "/characters/ventrites", 200, "a number from 2 to 9"},
		{"ada", small + "/characters/length", 200, "Families by length"},
		{"ada", small + "/characters/no-such", 404, "no such character"},
		{"ada", small + "/compare", 200, "Compare two"},
		{"ada", small + "/compare?a=Drilidae&b=Buprestidae", 200, "Elateridae and Buprestidae"},
		{"ada", small + "/compare?a=Elateridae&b=Elateridae", 400, "choose another"},
		{"ada", small + "/compare?a=%3Cb%3E&b=Elateridae", 400, "&lt;b&gt;"},
		{"ada", small + "/releases", 200, "None yet"},
		{"ada", small + "/releases/new", 403, "you may not edit the diagnosis tables"},
		{"rita", small + "/changes", 403, "you may not edit the diagnosis tables"},
		{"rita", small + "/changes/new", 403, "you may not edit the diagnosis tables"},
		{"rita", small + "/changes/no-such", 403, "you may not edit the diagnosis tables"},
		{"cora", small + "/changes", 200, "Nothing here."},
		{"cora", small + "/changes/no-such", 404, "There is nothing here"},
		{"cora", small + "/changes/new", 200, "Of which cell"},
		{"cora", small + "/changes/new?family=Elateridae&character=antenna-form", 200, "See what it would do"},
		{"cora", small + "/changes/new?family=Elateridae&character=length", 200, `value="1.5"`},
		{"cora", small + "/changes/new?family=Elateridae&form=typical&character=ventrites", 200, "no cell of its own yet"},
		{"cora", small + "/changes/new?family=Elateridae&form=none&character=ventrites", 404, "no such cell"},
		{"cora", small + "/changes/new?family=Elateridae&character=none", 404, "no such cell"},
		{"cora", small + "/releases/new", 200, "No agreed change waits"},
	} {
		t.Run(page.who+" "+page.path, func(t *testing.T) {
			club.t = t
			require.Contains(t, strings.ToLower(club.page(page.who, page.path, page.status)), strings.ToLower(page.contains))
		})
	}
}

func TestFormerAddressesLeadToTheFirstGroup(t *testing.T) {
	club := drawnClub(t)
	require.Equal(t, small, club.call("ada", "GET", "/families", nil).goesTo())
	require.Equal(t, small+"/sheets/Drilidae", club.call("ada", "GET", "/families/Drilidae", nil).goesTo())
	require.Equal(t, small+"/sheets/Elateridae", club.call("ada", "GET", small+"/sheets/Drilidae", nil).goesTo(), "an old name leads on")
}

func TestSheetHasDrawingsAndEscapesTexts(t *testing.T) {
	club := drawnClub(t)
	text := club.page("ada", small+"/sheets/Elateridae", 200)
	require.Contains(t, text, `<svg aria-hidden="true" focusable="false" viewBox="0 0 8 8" stroke="currentColor"><path d="M0 0L8 8"></path></svg>`)
	require.NotContains(t, text, "alert(1)", "nothing but shapes comes out of a drawing")
	require.Contains(t, text, "A &lt;b&gt;note&lt;/b&gt;.")
	require.Contains(t, text, "A &lt;i&gt;worn&lt;/i&gt; one")
	require.NotContains(t, strings.ToLower(text), "propose a change")
	require.Contains(t, club.page("cora", small+"/sheets/Elateridae", 200), "Propose a change")
	require.NotContains(t, club.page("ada", "/tables/second-test-group/sheets/Elateridae", 200), "<svg", "a group without drawings has none")
}

// The most telling character stands first: in these tables a count that the two families never share.
func TestCompareIsInOrder(t *testing.T) {
	club := drawnClub(t)
	text := club.page("ada", small+"/compare?a=Elateridae&b=Buprestidae", 200)
	first := strings.Index(text, ">Abdominal plates</a>")
	require.Positive(t, first)
	require.Greater(t, strings.Index(text, ">Antenna</a>"), first)
	require.Contains(t, text, "5: 88 % in Elateridae, never in Buprestidae")
	require.Contains(t, text, "More plates.")
	require.Contains(t, text, "These two cannot always be told apart.")
	require.Regexp(t, `Alike in both, or not recorded for one of them: .*Vesicles`, text)
}

func TestPicturesOfPages(t *testing.T) {
	club := drawnClub(t)
	hash := loaded(t, drawnTables(t)).Hash
	for _, name := range []string{hash, hash[:16]} {
		r := club.call("ada", "GET", "/pictures/"+name+"/antenna-form/serrate", nil)
		require.Equal(t, 200, r.status)
		require.Equal(t, testDrawing, string(r.body))
		require.Equal(t, "image/svg+xml", r.header.Get("Content-Type"))
		require.Equal(t, "nosniff", r.header.Get("X-Content-Type-Options"))
		require.Equal(t, "default-src 'none'; style-src 'none'; sandbox", r.header.Get("Content-Security-Policy"))
		require.Contains(t, r.header.Get("Cache-Control"), "immutable")
	}
	for _, path := range []string{hash[:11] + "/antenna-form/serrate", strings.Repeat("0", 64) + "/antenna-form/serrate", hash + "/antenna-form/none", hash + "/none/serrate"} {
		require.Equal(t, 404, club.call("ada", "GET", "/pictures/"+path, nil).status, path)
	}
	require.Equal(t, http.StatusSeeOther, club.browse("GET", "/pictures/"+hash+"/antenna-form/serrate").Code, "after a login only")
	require.Contains(t, club.page("ada", "/submissions/new?group=small-test-group", 200), `src="/pictures/`+hash[:16]+`/antenna-form/serrate" alt="" loading="lazy"`)
}

func TestGroupsOnPages(t *testing.T) {
	club := drawnClub(t)
	text := club.page("ada", "/submissions/new", 200)
	require.Contains(t, text, "Which group is it of?")
	require.Contains(t, text, `href="/submissions/new?group=second-test-group"`)
	club.page("ada", "/submissions/new?group=none", 404)
	require.Contains(t, club.page("ada", "/submissions/new?group=second-test-group", 200), "Proposed order")

	fields := club.submissionFields("ada")
	fields.Set("group", "second-test-group")
	id := idIn(t, club.postFiles("ada", "/submissions", fields).goesTo())
	require.Equal(t, "second-test-group", club.viewOf("ada", id).Submission.Group)
	require.Contains(t, club.page("ada", "/submissions/"+id, 200), "Two orders for tests")
	require.Contains(t, club.page("rita", "/submissions/"+id+"/review", 200), "It is another order")

	require.Contains(t, club.page("ada", "/submissions?group=second-test-group", 200), "AB-7")
	require.NotContains(t, club.page("ada", "/submissions?group=small-test-group", 200), "AB-7")
	require.Contains(t, club.page("rita", "/queue?group=second-test-group", 200), "AB-7")
	require.NotContains(t, club.page("rita", "/queue?group=small-test-group", 200), "AB-7")
	fields.Set("group", "none")
	fields.Set("key", "another")
	club.shown(club.postFiles("ada", "/submissions", fields), http.StatusNotFound)
}

func TestOneGroupIsNotAskedFor(t *testing.T) {
	club := newAPIClub(t)
	text := club.page("ada", "/submissions/new", 200)
	require.Contains(t, text, "Proposed family")
	require.Contains(t, text, `name="group" value="small-test-group"`)
	require.NotContains(t, club.page("ada", "/submissions", 200), `id="group"`)
}

func TestQueueNamesWhoHolds(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	_, err := club.server.Service.Hold(t.Context(), club.actor("rolf"), v.Submission.ID, service.AnyVersion)
	require.NoError(t, err)
	require.Contains(t, club.page("rita", "/queue", 200), "Held by Name of rolf until")
	require.Contains(t, club.page("rolf", "/queue", 200), "You hold it until")
	require.Contains(t, club.page("rita", "/", 200), "Held by Name of rolf until")
}

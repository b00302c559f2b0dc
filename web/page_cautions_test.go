package web

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// wholeClub has the shipped tables of the beetles.
func wholeClub(t testing.TB) *apiClub {
	t.Helper()
	return newAPIClubWith(t, []*diagnosis.Tables{diagnosis.Default()})
}

// TestCautionsOfRivals: a blister beetle that is filed as a soldier beetle brings the caution of blister beetles with it, on the
// draft before it is submitted and on the submission. Cantharidin and its persistence: common knowledge, no source was read.
func TestCautionsOfRivals(t *testing.T) {
	club := wholeClub(t)
	fresh := club.page("ada", "/submissions/new", 200)
	require.Contains(t, fresh, "Before you submit")
	for _, words := range []string{"Meloidae:</strong> Blister beetles hold cantharidin", "Anoplophora glabripennis (Asian longhorn beetle)",
		"Agrilus planipennis (emerald ash borer)", "Popillia japonica (Japanese beetle)", "Trogoderma granarium (khapra beetle)", "tell the plant health authority today"} {
		require.Contains(t, fresh, words)
	}
	require.Less(t, strings.Index(fresh, "Before you submit"), strings.Index(fresh, "Submit for review"))

	fields := url.Values{"label.catalogue_number": {"AB-9"}, "family": {"Cantharidae"}, "do": {"draft"}, "key": {"k"}, "group": {"coleoptera-adults"},
		"obs[tarsi-counted].state": {"5-5-4"}, "obs[claws].state": {"split"}, "obs[head-neck].state": {"yes"}, "obs[elytra-texture].state": {"soft"}}
	id := idIn(t, club.postFiles("ada", "/submissions", fields).goesTo())
	draft := club.page("ada", "/submissions/"+id+"/edit", 200)
	require.Contains(t, draft, "<strong>Meloidae</strong> (a leading rival): Blister beetles hold cantharidin")

	form := beetle(club, "ada", "Cantharidae", map[string]string{"elytra-texture": "soft"})
	v := club.call("ada", http.MethodPost, "/api/v1/submissions", form).is(http.StatusCreated).view()
	page := club.page("ada", "/submissions/"+v.Submission.ID, 200)
	require.Regexp(t, `<strong>Meloidae</strong> \((a leading rival|easily taken for it)\): Blister beetles hold cantharidin`, page)
	require.NotContains(t, page, "Potassium hydroxide", "nobody has asked for preparation")
}

// TestCautionsWithPreparation: who is asked to prepare a specimen is told of caustics, solvents, old boxes and of poison that
// lasts in dry beetles.
func TestCautionsWithPreparation(t *testing.T) {
	club := wholeClub(t)
	form := beetle(club, "ada", "Staphylinidae", map[string]string{"elytra-cover": "short"})
	v := club.call("ada", http.MethodPost, "/api/v1/submissions", form).is(http.StatusCreated).view()
	at := "/submissions/" + v.Submission.ID
	wanted := url.Values{"want": {"preparation"}, "text": {"the tarsi are glued under"}}
	wanted.Set("version", regexp.MustCompile(`name="version" value="(\d+)"`).FindStringSubmatch(club.page("rita", at, 200))[1])
	club.post("rita", at+"/return", wanted).goesTo()
	page := club.page("ada", at, 200)
	for _, words := range []string{"The poison of Paederus and its kin lasts in dry beetles", "Potassium hydroxide (KOH)", "Ethyl acetate and ethanol catch fire",
		"Cyanide is not for members", "arsenic or mercury"} {
		require.Contains(t, page, words)
	}
	require.Contains(t, club.page("rita", "/queue", 200), "Before you open drawers and boxes of Coleoptera")
}

func TestCautionsInTheAPI(t *testing.T) {
	club := wholeClub(t)
	tables := club.call("ada", http.MethodGet, "/api/v1/groups", nil).is(200)
	require.Contains(t, string(tables.body), `"handling":["Potassium hydroxide`)
	family := club.call("ada", http.MethodGet, "/api/v1/families/Buprestidae", nil).is(200)
	require.Contains(t, string(family.body), `{"name":"Agrilus planipennis","common":"emerald ash borer"}`)
}

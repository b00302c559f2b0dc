package web

import (
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// changeFields is the form that makes the antenna of click beetles mostly thread-like: 75 of 75+12+2 parts, 84 %.
func changeFields(t testing.TB) url.Values {
	t.Helper()
	return url.Values{"hash": {loaded(t, smallTables()).Hash}, "family": {"Elateridae"}, "form": {""}, "character": {"antenna-form"},
		"rows[0].state": {"serrate"}, "rows[0].word": {"rarely"}, "rows[1].state": {"filiform"}, "rows[1].word": {"usually"},
		"rows[2].state": {"clavate"}, "rows[2].word": {"sometimes"}, "source": {"guide"}, "place": {"page 9"}, "basis": {"read"},
		"note": {"A <b>new</b> note."}, "reason": {"read <i>again</i>"}, "do": {"propose"}}
}

func changeID(t testing.TB, location string) string {
	t.Helper()
	id, ok := strings.CutPrefix(location, small+"/changes/")
	require.True(t, ok, location)
	return id
}

func TestChangeOnPages(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	fields := changeFields(t)
	fields.Set("do", "preview")
	text := club.shown(club.post("cora", small+"/changes", fields), 200)
	require.Contains(t, text, "determinations looked at</dt><dd>1<")
	require.Contains(t, text, "read &lt;i&gt;again&lt;/i&gt;", "what was typed stays")
	require.Contains(t, club.page("cora", small+"/changes", 200), "Nothing here.", "a preview stores nothing")

	fields.Set("do", "propose")
	path := club.post("cora", small+"/changes", fields).goesTo()
	id := changeID(t, path)
	text = club.page("cora", path, 200)
	require.Contains(t, text, "This proposal is your own")
	require.Contains(t, text, "A &lt;b&gt;new&lt;/b&gt; note.")
	require.Contains(t, text, "“read &lt;i&gt;again&lt;/i&gt;”")
	require.Contains(t, text, "Take it back")
	require.NotContains(t, text, ">Agree<")
	require.Contains(t, club.page("carl", small+"/changes?status=open", 200), "Elateridae: Antenna")

	decide := url.Values{"version": {"1"}, "status": {"approved"}, "reason": {""}}
	text = club.shown(club.post("carl", path, decide), 400)
	require.Contains(t, text, `id="f-reason-wrong"`)
	decide.Set("reason", "I agree")
	club.shown(club.post("cora", path, decide), 403)
	require.Equal(t, path, club.post("carl", path, decide).goesTo())
	decide.Set("reason", "typed late")
	require.Contains(t, club.shown(club.post("carl", path, decide), 409), "typed late", "stale: what was typed stays")
	require.Contains(t, club.page("carl", path, 200), "Agreed by Name of carl")

	text = club.page("carl", small+"/releases/new", 200)
	require.Contains(t, text, `name="seen" value="`+id+`"`)
	release := url.Values{"hash": fields["hash"], "seen": {id}, "version": {"1"}, "notes": {"Antennae <u>read</u> again."}}
	text = club.shown(club.post("carl", small+"/releases", release), 400)
	require.Contains(t, text, `href="#f-version"`)
	require.Contains(t, text, "Antennae &lt;u&gt;read&lt;/u&gt; again.", "what was typed stays")
	release.Set("version", "2")
	require.Equal(t, small+"/releases", club.post("carl", small+"/releases", release).goesTo())
	text = club.page("ada", small+"/releases", 200)
	require.Contains(t, text, "Antennae &lt;u&gt;read&lt;/u&gt; again.")
	require.Contains(t, text, "Name of carl")
	require.Regexp(t, `<code>[0-9a-f]{64}</code>`, text)
	require.Contains(t, club.page("ada", small+"/sheets/Elateridae", 200), "thread-like <small>usually, 84 %")
	require.Contains(t, club.page("cora", path, 200), "It is part of a release.")
	club.page("ada", "/submissions/"+v.Submission.ID, 200)

	text = club.shown(club.post("cora", small+"/changes", fields), 409)
	require.Contains(t, text, "A new release of these tables was published")
	require.Contains(t, text, `value="page 9"`)
}

func TestReleaseOfOtherChangesThanSeenIsRefused(t *testing.T) {
	club := newAPIClub(t)
	fields := changeFields(t)
	path := club.post("cora", small+"/changes", fields).goesTo()
	club.post("carl", path, url.Values{"version": {"1"}, "status": {"approved"}, "reason": {"yes"}}).goesTo()
	release := url.Values{"hash": fields["hash"], "version": {"2"}, "notes": {"some notes"}}
	text := club.shown(club.post("carl", small+"/releases", release), 409)
	require.Contains(t, text, "no longer those that you have seen")
	require.Contains(t, text, "some notes")
	club.shown(club.post("ada", small+"/releases", release), 403)
}

func TestWithdrawAndRefuse(t *testing.T) {
	club := newAPIClub(t)
	path := club.post("cora", small+"/changes", changeFields(t)).goesTo()
	club.post("cora", path, url.Values{"version": {"1"}, "status": {"withdrawn"}, "reason": {"a slip"}}).goesTo()
	require.Contains(t, club.page("cora", path, 200), "Taken back by Name of cora")
	path = club.post("cora", small+"/changes", changeFields(t)).goesTo()
	club.post("carl", path, url.Values{"version": {"1"}, "status": {"refused"}, "reason": {"not so"}}).goesTo()
	require.Contains(t, club.page("cora", path, 200), "It changes nothing.")
}

// What is wrong is told beside its field, and everything typed comes back.
func TestChangeFormNamesWhatIsWrong(t *testing.T) {
	club := newAPIClub(t)
	for name, c := range map[string]struct {
		set   url.Values
		field string
		words string
	}{
		"number missing":  {url.Values{"rows[0].word": {"number"}}, "rows-0--word", "type the share"},
		"number and word": {url.Values{"rows[0].number": {"0.5"}}, "rows-0--word", "not both"},
		"no share":        {url.Values{"rows[0].word": {"number"}, "rows[0].number": {"1.5"}}, "rows-0--word", "from 0 to 1"},
		"twice always":    {url.Values{"rows[0].word": {"always"}, "rows[1].word": {"always"}}, "edit", "only one can"},
		"nothing":         {url.Values{"rows[0].word": {""}, "rows[1].word": {""}, "rows[2].word": {""}}, "edit", "at least one state"},
		"no reason":       {url.Values{"reason": {" "}}, "reason", "must be filled in"},
		"source unknown":  {url.Values{"source": {"none"}}, "edit", "none"},
	} {
		t.Run(name, func(t *testing.T) {
			club.t = t
			fields := changeFields(t)
			for field, values := range c.set {
				fields[field] = values
			}
			text := club.shown(club.post("cora", small+"/changes", fields), 400)
			require.Contains(t, text, `id="f-`+c.field+`-wrong"`)
			require.Contains(t, text, `href="#f-`+c.field+`"`)
			require.Contains(t, text, c.words)
			require.Contains(t, text, `value="page 9"`)
			require.NotContains(t, text, "families/Elateridae.yaml", "a form knows no file")
		})
	}
	club.t = t
	club.shown(club.post("rita", small+"/changes", changeFields(t)), 403)
	fields := changeFields(t)
	fields.Set("family", "Nosuchidae")
	club.shown(club.post("cora", small+"/changes", fields), 404)
}

func TestChangeOfALength(t *testing.T) {
	club := newAPIClub(t)
	fields := url.Values{"hash": {loaded(t, smallTables()).Hash}, "family": {"Elateridae"}, "character": {"length"}, "length.min": {"1,5"},
		"length.usual_min": {"5"}, "length.usual_max": {"long"}, "length.max": {"80"}, "reason": {"measured"}, "do": {"propose"}}
	text := club.shown(club.post("cora", small+"/changes", fields), 400)
	require.Contains(t, text, `id="f-length-usual-max-wrong"`)
	require.Contains(t, text, `value="long"`)
	fields.Set("length.usual_max", "25")
	path := club.post("cora", small+"/changes", fields).goesTo()
	proposal, _, err := club.server.Service.CellProposal(t.Context(), club.actor("cora"), changeID(t, path))
	require.NoError(t, err)
	require.Equal(t, &diagnosis.Length{Min: 1.5, Max: 80, Usual: [2]float64{5, 25}}, proposal.Edit.Length)
	require.Contains(t, club.page("cora", path, 200), "at the extremes 1.5–80 mm")
}

// What the form shows and sends back unchanged is what stands in the file: words, numbers, ranges, rest and order.
func TestUnchangedFormChangesNothing(t *testing.T) {
	club := newAPIClub(t)
	for _, cell := range []struct{ form, character string }{{"", "antenna-form"}, {"", "club-segments"}, {"", "ventrites"}, {"cebrionine", "ventrites"}, {"", "length"}} {
		text := club.page("cora", small+"/changes/new?family=Elateridae&form="+cell.form+"&character="+cell.character, 200)
		fields := sentBack(text)
		fields.Set("reason", "nothing")
		fields.Set("do", "propose")
		path := club.post("cora", small+"/changes", fields).goesTo()
		proposal, _, err := club.server.Service.CellProposal(t.Context(), club.actor("cora"), changeID(t, path))
		require.NoError(t, err)
		present, ok, err := diagnosis.Written(smallTables(), "Elateridae", cell.form, cell.character)
		require.NoError(t, err)
		require.True(t, ok)
		require.Equal(t, present, proposal.Edit)
	}
}

var (
	inputs   = regexp.MustCompile(`<input [^>]*?name="([^"]+)" value="([^"]*)"`)
	selects  = regexp.MustCompile(`(?s)<select [^>]*?name="([^"]+)".*?</select>`)
	selected = regexp.MustCompile(`<option value="([^"]*)" selected`)
	areas    = regexp.MustCompile(`(?s)<textarea [^>]*?name="([^"]+)"[^>]*>(.*?)</textarea>`)
)

// sentBack are the fields of a page's forms as a browser would send them.
func sentBack(text string) url.Values {
	fields := url.Values{}
	for _, m := range inputs.FindAllStringSubmatch(text, -1) {
		fields.Set(m[1], m[2])
	}
	for _, m := range selects.FindAllStringSubmatch(text, -1) {
		if chosen := selected.FindStringSubmatch(m[0]); chosen != nil {
			fields.Set(m[1], chosen[1])
		}
	}
	for _, m := range areas.FindAllStringSubmatch(text, -1) {
		fields.Set(m[1], m[2])
	}
	return fields
}

// A thread-like antenna and a club exclude each other: each of two changes is sound, both together are not
// (84 % and 60 % of one form, of 100).
func TestChangesThatDoNotFitTogetherOnPages(t *testing.T) {
	club := newAPIClub(t)
	thread := changeFields(t)
	clubbed := url.Values{"hash": thread["hash"], "family": {"Elateridae"}, "character": {"club-segments"}, "rows[0].state": {"1-3"},
		"rows[0].word": {"number"}, "rows[0].number": {"0.6"}, "rows[1].state": {"0"}, "rows[1].word": {"number"}, "rows[1].number": {"0,4"}, "source": {"guide"}, "place": {"page 9"}, "reason": {"counted"}, "do": {"propose"}}
	first := club.post("cora", small+"/changes", thread).goesTo()
	second := club.post("cora", small+"/changes", clubbed).goesTo()
	require.Contains(t, club.page("carl", second, 200), "What it would do")
	agree := url.Values{"version": {"1"}, "status": {"approved"}, "reason": {"yes"}}
	club.post("carl", first, agree).goesTo()
	club.post("carl", second, agree).goesTo()
	text := club.page("carl", small+"/releases/new", 400)
	require.Contains(t, text, "a thread has no club")
	require.NotContains(t, text, "determinations looked at")

	club.post("carl", second, url.Values{"version": {"2"}, "status": {"refused"}, "reason": {"not with the other"}}).goesTo()
	release := url.Values{"hash": thread["hash"], "seen": {changeID(t, first)}, "version": {"2"}, "notes": {"threads"}}
	open := club.post("cora", small+"/changes", clubbed).goesTo()
	club.post("carl", small+"/releases", release).goesTo()
	text = club.page("carl", open, 200)
	require.Contains(t, text, "It does not fit the tables in force any more")
	require.Contains(t, text, "Do not agree")
	require.NotContains(t, club.page("carl", second, 200), "What it would do", "of a decided one nothing is computed")
}

// TestOnlyCuratorOnPages: a club with one curator could not change its tables at all.
func TestOnlyCuratorOnPages(t *testing.T) {
	club := newAPIClub(t)
	fields := changeFields(t)
	path := club.post("cora", small+"/changes", fields).goesTo()
	approve := url.Values{"version": {"1"}, "status": {"approved"}, "reason": {""}}
	require.NoError(t, club.server.Accounts.Disable(t.Context(), "carl", "a test"))
	require.Contains(t, club.page("cora", path, 200), "Agree to it yourself")
	require.Contains(t, club.shown(club.post("cora", path, approve), 400), `id="f-reason-wrong"`, "not without a reason")
	approve.Set("reason", "Seen on forty beetles.")
	require.Equal(t, path, club.post("cora", path, approve).goesTo())
	const mark = "greed to by who proposed it, the only curator then"
	require.Contains(t, club.page("cora", path, 200), "Seen on forty beetles.")
	for _, page := range []string{path, small + "/changes", small + "/releases/new"} {
		require.Contains(t, club.page("cora", page, 200), mark, page)
	}
	change := decoded[ChangeView](club.call("cora", "GET", "/api/v1/groups/small-test-group/changes/"+changeID(t, path), nil).is(200))
	require.True(t, change.OwnApproval)

	// As soon as there are two, neither decides alone: not on a new change, and not on what was approved before.
	require.NoError(t, club.server.Accounts.Enable(t.Context(), "carl", "a test"))
	club.token("carl")
	release := url.Values{"hash": fields["hash"], "seen": {change.ID}, "version": {"2"}, "notes": {"Antennae."}}
	require.Contains(t, club.shown(club.post("cora", small+"/releases", release), 403), "another curator must publish it or refuse it")
	fields.Set("note", "Another one.")
	second := club.post("cora", small+"/changes", fields).goesTo()
	require.NotContains(t, club.page("cora", second, 200), "Agree to it yourself")
	club.shown(club.post("cora", second, approve), 403)

	require.NoError(t, club.server.Accounts.Disable(t.Context(), "carl", "a test"))
	require.Equal(t, small+"/releases", club.post("cora", small+"/releases", release).goesTo())
	require.Contains(t, club.page("ada", small+"/releases", 200), mark, "everybody can read it")
	made := decoded[struct{ Items []ReleaseView }](club.call("ada", "GET", "/api/v1/groups/small-test-group/releases", nil).is(200)).Items
	require.Equal(t, []string{change.ID}, made[0].OwnApprovals)
}

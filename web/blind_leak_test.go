package web

import (
	"encoding/base64"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
	"revidit/review/service"
)

// story is what is stated about one and the same specimen, in two clubs that differ in nothing else.
type story struct {
	owner, family, other, name, determiner, remarks, state, sureness, drawer string
	verdict                                                                  map[string]any
	opinion                                                                  map[string]any
}

var stories = [2]story{
	{owner: "ada", family: "Elateridae", other: "Buprestidae", name: "Agriotes secretus", determiner: "Old Hand", remarks: "a spine below", state: "serrate",
		sureness: "sure", drawer: "Elateridae 4", verdict: map[string]any{"kind": "confirm"}, opinion: map[string]any{"kind": "agrees", "basis": "photos"}},
	{owner: "ben", family: "Buprestidae", other: "Elateridae", name: "Agrilus secretus", determiner: "Other Hand", remarks: "metallic", state: "filiform",
		sureness: "unsure", drawer: "Buprestidae 1", verdict: map[string]any{"kind": "dispute", "better": "clavate", "note": "look again"},
		opinion: map[string]any{"kind": "another", "family": "Elateridae", "basis": "specimen"}},
}

// told is the end of a story: where Rita is to look blind.
var told = map[string]func(c *apiClub, s story) service.SubmissionView{
	"drawn": func(c *apiClub, s story) service.SubmissionView { return c.tell(s, "rita") },
	"with its owner": func(c *apiClub, s story) service.SubmissionView {
		v := c.tell(s, "rita")
		return c.call("rolf", "POST", at(v, "/returns"), map[string]any{"want": "specimen", "text": "send it"}).is(http.StatusOK).view()
	},
	"a second determination": func(c *apiClub, s story) service.SubmissionView {
		v := c.tell(s)
		c.draws("rita")
		return c.call("rolf", "POST", at(v, "/redeterminations"), map[string]any{"family": s.other, "reason": "it is " + s.other}).is(http.StatusCreated).view()
	},
	"closed": func(c *apiClub, s story) service.SubmissionView {
		c.rechecks(3)
		v := c.tellOn(s)
		settled := c.call("cora", "POST", at(v, "/undetermination"), map[string]any{"reason": "no " + s.family}).is(http.StatusOK).view()
		require.NotNil(c.t, settled.Submission.Recheck)
		return settled
	},
}

func (c *apiClub) tell(s story, drawn ...string) service.SubmissionView {
	c.draws(drawn...)
	return c.tellOn(s)
}

// tellOn submits the specimen, and lets Rolf say something about it.
func (c *apiClub) tellOn(s story) service.SubmissionView {
	c.t.Helper()
	form := c.form(s.owner)
	form["label"].(map[string]any)["storage_place"] = s.drawer
	form["family"], form["scientific_name"], form["determiner_name"], form["remarks"] = s.family, s.name, s.determiner, s.remarks
	photo := form["photos"].([]any)[0].(map[string]any)["photo"]
	form["observations"] = []any{map[string]any{"character": "antenna-form", "state": s.state, "sureness": s.sureness, "photo": photo,
		"region": map[string]any{"x": 0.1, "y": 0.1, "w": 0.5, "h": 0.5}}}
	v := c.call(s.owner, "POST", "/api/v1/submissions", form).is(http.StatusCreated).view()
	verdict := map[string]any{"observation": v.Submission.Cites[0]}
	for key, value := range s.verdict {
		verdict[key] = value
	}
	// Rolf reviews without settling it: the policy asks for three.
	return c.call("rolf", "POST", at(v, "/reviews"), map[string]any{"verdicts": []any{verdict}, "opinion": s.opinion}).is(http.StatusOK).view()
}

// ownLogins tell ids and times of the logins of who looks, which differ by chance, and nothing of any submission.
var ownLogins = []string{"/account", "/account/codes", apiPrefix + "/me/sessions"}

// asking are all addresses that answer GET, with what somebody could know put in, and with filters that ask for names.
func (c *apiClub) asking(v service.SubmissionView) []string {
	submissions := []string{v.Submission.ID}
	if v.Submission.Follows != "" {
		submissions = append(submissions, v.Submission.Follows)
	}
	var paths []string
	for _, r := range c.engine.Routes() {
		if r.Method != http.MethodGet || slices.Contains(ownLogins, r.Path) {
			continue
		}
		for _, id := range submissions {
			if strings.Contains(r.Path, "/specimens/") {
				id = v.Submission.Specimen
			}
			paths = append(paths, strings.NewReplacer(":group", "small-test-group", ":hash", c.tablesInForce().Hash, ":character", "antenna-form", ":state", "serrate",
				":file", "serrate.svg", ":size", "display", ":name", "Elateridae", "/photos/:id", "/photos/"+v.Submission.Photos[0],
				"/characters/:id", "/characters/antenna-form", ":id", id).Replace(r.Path))
		}
	}
	for _, set := range service.LabelSets {
		query := url.Values{"set": {string(set)}, "specimen": {v.Submission.Specimen}}.Encode()
		paths = append(paths, "/labels?"+query, "/api/v1/labels?"+query)
	}
	for _, s := range stories {
		paths = append(paths, "/labels?"+url.Values{"list": {"submissions"}, "family": {s.family}}.Encode())
		for _, query := range []url.Values{{"family": {s.family}}, {"q": {s.family}}, {"q": {s.name}}, {"doubtful": {"yes"}}, {"status": {"open"}}} {
			paths = append(paths, "/submissions?"+query.Encode(), "/queue?"+query.Encode())
		}
		for _, query := range []url.Values{{"family": {s.family}}, {"text": {s.name}}, {"text": {s.family}}, {"doubtful": {"true"}}, {"owner": {c.people[s.owner]}},
			{"specimen": {v.Submission.Specimen}}, {"family": {s.family}, "size": {"1"}}} {
			paths = append(paths, "/api/v1/submissions?"+query.Encode())
		}
		for _, query := range []url.Values{{"family": {s.family}}, {"drawer": {s.drawer}}, {"trip": {"May trip"}}, {"family": {s.family}, "size": {"1"}}} {
			paths = append(paths, "/api/v1/queue?"+query.Encode(), "/queue?"+query.Encode())
		}
	}
	slices.Sort(paths)
	return slices.Compact(paths)
}

// aboutTables are the addresses whose business it is to name families and states; the manual is made of the document alone, and its examples are the same for everybody.
var aboutTables = regexp.MustCompile(`^(/api/v1)?/(tables|families|faunas|pictures|characters|groups|openapi|policy|comparison|key)|^/submissions/new|^/static/|^/api$`)

var (
	// A cursor is sealed with a nonce: what it tells is its length, and what stands behind it.
	cursors = regexp.MustCompile(`("next":"|[?&](?:amp;)?cursor=)([A-Za-z0-9_-]+)`)
	masked  = regexp.MustCompile(`urn:uuid:[0-9a-f-]{36}|name="key" value="[0-9a-f-]{36}"`) // of the request alone
	offered = regexp.MustCompile(`(?s)<datalist.*?</datalist>`)
)

// TestNothingIsGivenAway walks as a reviewer who is to look blind over every address that answers GET. What comes back
// must be the same to the letter whatever the name, the stated state, its observer, the verdicts and the opinions are:
// then nothing of them can be in it, in whatever disguise.
func TestNothingIsGivenAway(t *testing.T) {
	for ending, tell := range told {
		t.Run(ending, func(t *testing.T) {
			var clubs [2]*apiClub
			var views [2]service.SubmissionView
			for i, s := range stories {
				clubs[i] = newClub(t, &fixture{}, []*diagnosis.Tables{loaded(t, smallTables())})
				views[i] = tell(clubs[i], s)
			}
			require.Equal(t, views[0].Submission.ID, views[1].Submission.ID, "the clubs differ in what is stated alone")
			paths := clubs[0].asking(views[0])
			require.Greater(t, len(paths), 60)
			for _, path := range paths {
				one, other := clubs[0].call("rita", http.MethodGet, path, nil), clubs[1].call("rita", http.MethodGet, path, nil)
				require.Equal(t, one.status, other.status, path)
				text := plain(one)
				require.Equal(t, text, plain(other), path)
				one.header.Del("X-Request-Id")
				other.header.Del("X-Request-Id")
				require.Equal(t, one.header, other.header, path)
				sayNothing(t, path, text)
			}
		})
	}
}

// plain is a body without what differs from request to request; of a cursor its length is left.
func plain(r *reply) string {
	text := masked.ReplaceAllString(string(r.body), "")
	return cursors.ReplaceAllStringFunc(text, func(found string) string {
		parts := cursors.FindStringSubmatch(found)
		return parts[1] + strings.Repeat("*", len(parts[2]))
	})
}

// TestCursorsGiveNothingAway pages through both clubs as a reviewer who is to look blind at what one of two submissions
// holds: cursors are as long as each other, and what stands behind them is the same.
func TestCursorsGiveNothingAway(t *testing.T) {
	var clubs [2]*apiClub
	for i, s := range stories {
		clubs[i] = newClub(t, &fixture{}, []*diagnosis.Tables{loaded(t, smallTables())})
		clubs[i].tell(s, "rita")
		clubs[i].tell(s, "rita")
	}
	for _, list := range []string{"submissions", "queue"} {
		path := "/api/v1/" + list + "?size=1"
		one, other := clubs[0].call("rita", "GET", path, nil).is(http.StatusOK), clubs[1].call("rita", "GET", path, nil).is(http.StatusOK)
		require.Equal(t, plain(one), plain(other), list)
		next, otherNext := decoded[lines](one).Next, decoded[lines](other).Next
		require.NotEmpty(t, next, list)
		require.Equal(t, len(next), len(otherNext), list)
		require.Equal(t, plain(clubs[0].call("rita", "GET", path+"&cursor="+next, nil).is(http.StatusOK)),
			plain(clubs[1].call("rita", "GET", path+"&cursor="+otherNext, nil).is(http.StatusOK)), list)
		text, err := base64.RawURLEncoding.DecodeString(next)
		require.NoError(t, err)
		require.NotContains(t, string(text), "id-0", "the place is closed")
		for who, further := range map[string]string{"rolf": "", "rita": "&family=Elateridae"} {
			refused := clubs[0].call(who, "GET", path+further+"&cursor="+next, nil).is(http.StatusBadRequest)
			require.Equal(t, []string{"cursor"}, refused.fields(), "%s %s", who, list)
		}
	}
}

// A cursor made by hand, as a list once gave it, would tell by bisection where a sealed submission stands.
func TestNobodyChoosesAPlaceInTheQueue(t *testing.T) {
	club := newAPIClub(t)
	club.submitted()
	for _, made := range []string{`{"given":1,"gain":{"urgency":0.5,"id":"a"}}`, `{"weights":{"head":0},"given":0,"wait":{"urgency":1,"id":"a"}}`} {
		for _, cursor := range []string{base64.RawURLEncoding.EncodeToString([]byte(made)), url.QueryEscape(made)} {
			require.Equal(t, []string{"cursor"}, club.call("rita", "GET", "/api/v1/queue?cursor="+cursor, nil).is(http.StatusBadRequest).fields())
		}
	}
}

// sayNothing requires that a body names nothing of a story.
func sayNothing(t testing.TB, path, text string) {
	t.Helper()
	asked, err := url.Parse(path)
	require.NoError(t, err)
	for _, values := range asked.Query() {
		text = strings.ReplaceAll(text, `value="`+values[0]+`"`, "") // what was asked for comes back in the form
	}
	text = strings.ReplaceAll(text, `value="`+html.EscapeString(path)+`"`, "") // and where the choice of a language leads back to
	if asked.RawQuery != "" {                                                  // and where the same list stands as a file, or is kept as a search
		text = strings.ReplaceAll(text, `value="`+html.EscapeString(asked.Query().Encode())+`"`, "")
		for _, form := range []string{"csv", "json"} {
			query := asked.Query()
			query.Set("as", form)
			text = strings.ReplaceAll(text, `href="`+html.EscapeString(asked.Path+"?"+query.Encode())+`"`, "")
		}
	}
	for _, s := range stories {
		for _, secret := range []string{s.name, s.determiner, s.remarks, s.drawer} {
			require.NotContains(t, text, secret, path)
		}
		if aboutTables.MatchString(path) {
			continue
		}
		require.NotContains(t, offered.ReplaceAllString(text, ""), s.family, path)
		if !strings.HasSuffix(path, "/blind") {
			require.NotContains(t, text, s.state, path)
		}
	}
}

// Who is not drawn sees everything that this walk looks for: otherwise it would prove nothing.
func TestTheWalkWouldFindWhatIsGivenAway(t *testing.T) {
	club := newClub(t, &fixture{}, []*diagnosis.Tables{loaded(t, smallTables())})
	v := told["drawn"](club, stories[0])
	found := ""
	for _, path := range club.asking(v) {
		if !aboutTables.MatchString(path) {
			found += string(club.call("rolf", http.MethodGet, path, nil).body)
		}
	}
	for _, secret := range []string{stories[0].family, stories[0].name, stories[0].determiner, stories[0].remarks, stories[0].drawer, stories[0].state} {
		require.Contains(t, found, secret)
	}
}

// Neither a short page nor an empty one may say that a filter by name has found something that is not shown.
func TestPagesDoNotCountWhatIsHidden(t *testing.T) {
	for _, drawn := range []int{0, 1, 2} {
		club := newAPIClub(t)
		var shown []string
		for i := range 3 {
			if club.draws(); i == drawn {
				club.draws("rita")
			}
			if v := club.submitted(); i != drawn {
				shown = append([]string{v.Submission.ID}, shown...)
			}
		}
		for _, list := range []string{"submissions", "queue"} {
			var found []string
			for next, more := "", true; more; more = next != "" {
				page := decoded[lines](club.call("rita", "GET", "/api/v1/"+list+"?family=Elateridae&size=1&cursor="+url.QueryEscape(next), nil).is(http.StatusOK))
				require.Len(t, page.Items, 1, "%s, the one at %d is hidden", list, drawn)
				found, next = append(found, page.Items[0].ID), page.Next
			}
			require.ElementsMatch(t, shown, found)
		}
		require.Len(t, decoded[lines](club.call("rita", "GET", "/api/v1/submissions?text=ab-1", nil)).Items, 3, "the number is known")
	}
}

package main

import (
	"archive/zip"
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/cmd/revidit/demo"
	"revidit/review/service"
	"revidit/web"
)

// station is a page of the walk over all of them.
type station struct {
	route string // as the router writes it
	name  string // of the page in pictures and failures
	by    string // login of who looks; nobody is logged in where empty
	path  string // {kind} is the id of what places.find has found of that kind
}

const beetles = "/tables/coleoptera-adults"

// stations are all pages, some in several guises. TestTheWalkLeavesNothingOut compares them with the router.
var stations = []station{
	{"/login", "login", "", "/login"},
	{"/login", "login-again", "", "/login?next=/kept/{kept}"},
	{"/password", "password-forgotten", "", "/password"},
	{"/password", "password-asked", "", "/password?asked=yes"},
	{"/account", "account", "odile", "/account"},
	{"/invitations", "invitations", "odile", "/invitations"},
	{"/people/:id/account", "person-account", "odile", "/people/{person}/account"},
	{"/join/:token", "join", "", "/join/{invited}"},
	{"/password/:token", "password-reset", "", "/password/{reset}"},
	{"/account/codes", "codes", "sabine", "/account/codes"},
	{"/", "start", "", "/"},
	{"/", "home-member", "ida", "/"},
	{"/", "home-reviewer", "henrike", "/"},
	{"/", "home-curator", "odile", "/"},
	{"/visit/:step", "visit-member-1", "ida", "/visit/1"},
	{"/visit/:step", "visit-member-2", "ida", "/visit/2"},
	{"/visit/:step", "visit-member-3", "ida", "/visit/3"},
	{"/visit/:step", "visit-reviewer-1", "henrike", "/visit/1"},
	{"/visit/:step", "visit-reviewer-2", "henrike", "/visit/2"},
	{"/visit/:step", "visit-reviewer-3", "henrike", "/visit/3"},
	{"/visit/:step", "visit-curator-1", "odile", "/visit/1"},
	{"/visit/:step", "visit-curator-2", "odile", "/visit/2"},
	{"/visit/:step", "visit-curator-3", "odile", "/visit/3"},
	{"/seeing", "seeing", "ida", "/seeing"},
	{"/news", "news", "ida", "/news"},
	{"/mail", "mail", "ida", "/mail"},
	{"/permissions", "permissions", "ida", "/permissions"},
	{"/machines", "machines", "odile", "/machines"},
	{"/mail/confirm/:token", "mail-confirm", "", "/mail/confirm/nothing"},
	{"/unsubscribe/:token", "unsubscribe", "", "/unsubscribe/nothing"},
	{"/series", "series-list", "sabine", "/series"},
	{"/series/:id", "series-mentor", "sabine", "/series/{series}"},
	{"/series/:id", "series-curator", "odile", "/series/{series}"},
	{"/kept/:id", "kept", "ida", "/kept/{kept}"},
	{"/labels", "labels", "ida", "/labels"},
	{"/labels", "labels-locality", "odile", "/labels?list=submissions&status=confirmed"},
	{"/labels", "labels-slips", "odile", "/labels?list=submissions&status=redetermined&set=slips&size=18x8"},
	{"/labels", "labels-catalogue", "ida", "/labels?specimen={specimen}&set=catalogue"},
	{"/labels/:id", "sheet-of-labels", "odile", "/labels/{sheet}"},

	{"/submissions", "submissions", "henrike", "/submissions"},
	{"/submissions", "submissions-none", "ida", "/submissions?q=nothing-like-it"},
	{"/submissions", "submissions-audited", "odile", "/submissions?against=excluded&from=2000-01-01&family=Carabidae"},
	{"/search", "search", "odile", "/search?q=ida"},
	{"/search", "search-nothing", "ida", "/search"},
	{"/people", "people", "odile", "/people"},
	{"/people", "people-nobody", "ida", "/people?name=nobody-like-it"},
	{"/people/:id", "person", "odile", "/people/{person}"},
	{"/people/:id", "person-self", "henrike", "/people/{self}"},
	{"/figures/changes", "changes-of-collection", "odile", "/figures/changes?from=2000-01-01&which=settled"},
	{"/figures/agreement", "agreement-of-a-period", "odile", "/figures/agreement?from=2000-01-01&to=2099-12-31"},
	{"/submissions/new", "new-group", "ida", "/submissions/new"},
	{"/submissions/new", "new", "ida", "/submissions/new?group=coleoptera-adults"},
	{"/submissions/begin", "begin", "ida", "/submissions/begin?group=coleoptera-adults"},
	{"/submissions/begin", "begin-again", "ida", "/submissions/begin?draft={draft}"},
	{"/submissions/tray", "tray", "ida", "/submissions/tray?group=coleoptera-adults"},
	{"/submissions/:id", "draft", "ida", "/submissions/{draft}"},
	{"/submissions/:id", "open-sealed", "henrike", "/submissions/{open}"},
	{"/submissions/:id", "disputed", "tove", "/submissions/{disputed}"},
	{"/submissions/:id", "returned", "bram", "/submissions/{returned}"},
	{"/submissions/:id", "confirmed", "ida", "/submissions/{confirmed}"},
	{"/submissions/:id", "undetermined", "odile", "/submissions/{undetermined}"},
	{"/submissions/:id", "redetermined", "odile", "/submissions/{redetermined}"},
	{"/submissions/:id/ask", "ask", "ida", "/submissions/{draft}/ask?character=ventrites"},
	{"/submissions/:id/ask", "ask-where", "ida", "/submissions/{draft}/ask?character=prosternal-process&lesson=ventrites"},
	{"/submissions/:id/check", "check", "ida", "/submissions/{draft}/check"},
	{"/submissions/:id/edit", "edit", "ida", "/submissions/{draft}/edit"},
	{"/submissions/:id/history", "history", "odile", "/submissions/{redetermined}/history"},
	{"/submissions/:id/as-of", "as-of", "odile", "/submissions/{redetermined}/as-of?day=2100-01-01"},
	{"/submissions/:id/as-of", "as-of-sealed", "henrike", "/submissions/{open}/as-of?day=2100-01-01"},
	{"/submissions/:id/difference", "difference", "odile", "/submissions/{redetermined}/difference?from={moment}&to={last}"},
	{"/submissions/:id/review", "review", "henrike", "/submissions/{open}/review"},
	{"/submissions/:id/review", "review-looked", "henrike", "/submissions/{open}/review?looked=blind"},
	{"/submissions/:id/answer", "answer", "bram", "/submissions/{returned}/answer"},
	{"/submissions/:id/blind", "blind", "{blind}", "/submissions/{blind}/blind"},
	{"/submissions/:id/blind", "panel", "{panel}", "/submissions/{panel}/blind"},
	{"/specimens/:id", "specimen", "ida", "/specimens/{specimen}"},
	{"/specimens/:id/dossier", "dossier", "odile", "/specimens/{specimen}/dossier"},
	{"/published/:id", "published", "", "/published/{published}"},
	{"/published/:id", "published-german", "", "/published/{published}?language=de"},
	{"/specimens/:id", "specimen-published", "odile", "/specimens/{published}"},
	{"/specimens/:id/label", "label", "odile", "/specimens/{specimen}/label"},

	{"/queue", "queue", "henrike", "/queue"},
	{"/queue", "queue-saved", "henrike", "/queue?saved={open}"},
	{"/queue", "queue-none", "henrike", "/queue?trip=nowhere"},
	{"/policy", "policy", "ida", "/policy"},
	{"/policy", "policy-curator", "odile", "/policy"},

	{"/tables", "tables", "mirela", "/tables"},
	{"/tables/:group", "group", "mirela", beetles},
	{"/tables/:group", "group-orders", "mirela", "/tables/insect-orders"},
	{"/tables/:group/sheets/:name", "sheet", "mirela", beetles + "/sheets/Elateridae"},
	{"/tables/:group/characters/:id", "character", "mirela", beetles + "/characters/antenna-form"},
	{"/tables/:group/compare", "compare", "mirela", beetles + "/compare?a=Elateridae&b=Buprestidae"},
	{"/tables/:group/compare", "compare-none", "mirela", beetles + "/compare"},
	{"/tables/:group/parts", "parts", "mirela", beetles + "/parts"},
	{"/tables/:group/parts", "parts-of-character", "mirela", beetles + "/parts?character=first-ventrite"},
	{"/tables/:group/parts", "part", "mirela", beetles + "/parts?part=claws"},
	{"/tables/:group/told", "told", "mirela", beetles + "/told?list=antenna-form:serrate%0Aprosternal-process:click-spine&family=Buprestidae"},
	{"/tables/:group/glossary", "glossary", "mirela", beetles + "/glossary"},
	{"/tables/:group/key", "key-choose", "mirela", beetles + "/key"},
	{"/tables/:group/key", "key", "mirela", beetles + "/key?make=1&family=Elateridae&family=Buprestidae&family=Meloidae&family=Carabidae&family=Lampyridae"},
	{"/tables/:group/releases", "releases", "odile", beetles + "/releases"},
	{"/tables/:group/releases/new", "release-new", "odile", beetles + "/releases/new"},
	{"/tables/:group/reassessments", "reassessments", "odile", beetles + "/reassessments"},
	{"/tables/:group/reassessments/:key", "reassessment", "odile", beetles + "/reassessments/{reassessment}"},
	{"/archive", "archive", "odile", "/archive"},
	{"/archive/intakes/:id", "intake", "odile", "/archive/intakes/{intake}?all=yes"},
	{"/inventory", "inventories", "odile", "/inventory"},
	{"/inventory/:id", "inventory", "odile", "/inventory/{inventory}?all=yes"},
	{"/tables/:group/changes", "changes", "odile", beetles + "/changes"},
	{"/tables/:group/changes/new", "change-choose", "odile", beetles + "/changes/new"},
	{"/tables/:group/changes/new", "change-new", "odile", beetles + "/changes/new?family=Elateridae&character=antenna-form"},
	{"/tables/:group/changes/:id", "change", "odile", beetles + "/changes/{change}"},

	{"/figures", "figures", "odile", "/figures"},
	{"/figures/agreement", "agreement", "odile", "/figures/agreement"},
	{"/figures/calibration", "calibration", "odile", "/figures/calibration"},
	{"/figures/reliability", "reliability", "odile", "/figures/reliability"},
	{"/figures/reliability", "reliability-own", "henrike", "/figures/reliability"},
	{"/figures/work", "work", "odile", "/figures/work"},
	{"/reports/determinations", "report-determinations", "odile", "/reports/determinations?from=2000-01-01"},
	{"/reports/determinations", "report-of-persons", "odile", "/reports/determinations?from=2000-01-01&by=person"},
	{"/reports/year", "report-year", "odile", "/reports/year"},
	{"/reports/year", "report-year-over", "odile", "/reports/year?year=2001"},
	{"/proof", "proof", "odile", "/proof"},
	{"/api", "manual", "", "/api"},
}

// onward are addresses that only lead to another page, and what else is no page: where to ask, and where it leads or as what it comes.
var onward = []struct{ route, by, path, leads, media string }{
	{"/queue/next", "henrike", "/queue/next", "/submissions/", ""},
	{"/visit", "ida", "/visit", "/visit/", ""},
	{"/families", "ida", "/families", "/tables/", ""},
	{"/families/:name", "ida", "/families/Elateridae", "/tables/", ""},
	{"/glossary", "ida", "/glossary", "/tables/", ""},
	{"/healthz", "", "/healthz", "", ""},
	{"/login/second", "", "/login/second", "/login", ""},
	{"/login/provider/end", "", "/login/provider/end", "/login", ""}, // TestTheLoginOfAMuseumInABrowser walks where there is a provider
	{"/key", "ida", "/key", "/tables/", ""},
	{"/tables/:group/key/booklet", "ida", beetles + "/key/booklet?family=Elateridae&family=Buprestidae&family=Meloidae", "", "application/pdf"},
	{"/news/:id", "ida", "/news/{news}", "/submissions/", ""},
	{"/static/:name", "", "/static/style.css", "", "text/css"},
	{"/labels/:id/sheet.pdf", "odile", "/labels/{sheet}/sheet.pdf", "", "application/pdf"},
	{"/proof/checkpoint", "odile", "/proof/checkpoint", "", "text/plain"},
	{"/submissions/:id/proof", "odile", "/submissions/{confirmed}/proof?stream=submission/{confirmed}&seq=1", "", "text/plain"},
	{"/archive/file", "odile", "/archive/file?title=A&organization=B&license=https://creativecommons.org/publicdomain/zero/1.0/", "", "application/zip"},
	{"/photos/:id/:size", "ida", "/photos/{photo}/thumb", "", "image/jpeg"},
	{"/iiif/specimens/:id/manifest", "", "/iiif/specimens/{published}/manifest", "", "application/json"},
	{"/iiif/images/:id", "", "/iiif/images/{shown}", "/iiif/images/", ""},
	{"/iiif/images/:id/info.json", "", "/iiif/images/{shown}/info.json", "", "application/json"},
	{"/iiif/images/:id/:region/:size/:rotation/:file", "", "/iiif/images/{shown}/square/100,/0/default.jpg", "", "image/jpeg"},
	{"/pictures/:hash/:character/:state", "ida", "", "", "image/svg+xml"},
	{"/plates/:hash/:plate", "ida", "", "", "image/svg+xml"},
}

// streamed are answers that do not end, which their own tests read.
var streamed = []string{"/queue/live"}

// TestTheWalkLeavesNothingOut: every address that answers GET outside the API is walked, or known to be no page.
func TestTheWalkLeavesNothingOut(t *testing.T) {
	t.Parallel()
	routed, err := web.Addresses(web.Config{Service: &service.Service{}, Accounts: &auth.Accounts{}})
	require.NoError(t, err)
	var known []string
	for _, s := range stations {
		known = append(known, s.route)
	}
	for _, o := range onward {
		require.NotContains(t, known, o.route)
		known = append(known, o.route)
	}
	known = append(known, streamed...)
	slices.Sort(known)
	require.Equal(t, routed, slices.Compact(known))
}

// places are things of the made-up club that pages are about, by kind, with who is to look at them where that is not said.
type places struct {
	*testing.T
	base   string
	id, by map[string]string

	mu      sync.Mutex // of what follows
	cookies map[string]*http.Cookie
}

// cookie is the login of somebody: one for all tests, since logins are limited.
func (w *places) cookie(t *testing.T, login string) *http.Cookie {
	t.Helper()
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.cookies[login] == nil {
		w.cookies[login] = cookieOf(t, w.base, login, demo.Password)
	}
	return w.cookies[login]
}

type walkedLine struct {
	ID, Specimen, Photo, Look, Status string
	Sealed, Blind, Recheck            bool
	Reviewers, Contradictions         int
}

func (w *places) client(login string) *client {
	return &client{base: w.base + "/api/v1", cookie: w.cookie(w.T, login)}
}

// first is the first submission of a list, as somebody sees it, that is as it should be.
func (w *places) first(login, list string, fits func(walkedLine) bool) (walkedLine, bool) {
	w.Helper()
	var found struct{ Items []walkedLine }
	status, err := w.client(login).do("GET", list, "", nil, nil, &found)
	require.NoError(w, err)
	require.Equal(w, http.StatusOK, status, list)
	at := slices.IndexFunc(found.Items, fits)
	if at < 0 {
		return walkedLine{}, false
	}
	return found.Items[at], true
}

func (w *places) must(kind, login, list string, fits func(walkedLine) bool) walkedLine {
	w.Helper()
	line, ok := w.first(login, list, fits)
	require.True(w, ok, "the made-up club has nothing %s", kind)
	w.id[kind], w.by[kind] = line.ID, login
	return line
}

func anyLine(walkedLine) bool { return true }

// findPlaces looks up what the stations are about, and makes what a demo has not: a draft, a form that was kept, a proposed change.
func findPlaces(t *testing.T, p *program) *places {
	t.Helper()
	w := &places{T: t, base: p.address, cookies: map[string]*http.Cookie{}, id: map[string]string{}, by: map[string]string{}}
	w.must("open", "henrike", "/queue?size=200", func(l walkedLine) bool { return !l.Blind && !l.Recheck && l.Reviewers > 0 })
	w.must("disputed", "tove", "/submissions?owner=me&status=open", func(l walkedLine) bool { return l.Reviewers > 0 })
	w.must("returned", "bram", "/submissions?owner=me&status=returned", anyLine)
	confirmed := w.must("confirmed", "ida", "/submissions?owner=me&status=confirmed", func(l walkedLine) bool { return l.Photo != "" })
	w.id["specimen"], w.id["photo"] = confirmed.Specimen, confirmed.Photo
	w.must("undetermined", "odile", "/submissions?status=undetermined", anyLine)
	w.must("redetermined", "odile", "/submissions?status=redetermined", anyLine)
	w.somebody("blind", func(l walkedLine) bool { return l.Blind && !l.Recheck })
	w.somebody("panel", func(l walkedLine) bool { return l.Recheck })
	w.findOwn()
	w.findMoments()
	w.findPeople()
	w.openDoors()
	w.makeDraft()
	w.makeChange()
	w.makeReassessment()
	w.makeIntake()
	w.makeInventory()
	w.keepForm()
	w.printSheet()
	w.findPublished()
	return w
}

// findPeople finds a member and a reviewer.
func (w *places) findPeople() {
	w.Helper()
	for kind, login := range map[string]string{"person": "ida", "self": "henrike"} {
		var me struct{ ID string }
		status, err := w.client(login).do("GET", "/me", "", nil, nil, &me)
		require.NoError(w, err)
		require.Equal(w, http.StatusOK, status)
		w.id[kind] = me.ID
		require.NotEmpty(w, me.ID)
	}
}

// openDoors makes links by which somebody gets in, and begins to set up one-time codes.
func (w *places) openDoors() {
	w.Helper()
	var made struct{ Link string }
	w.make("odile", "/invitations", map[string]any{"name": "Ivo Invented", "role": "member"}, &made)
	w.id["invited"] = made.Link[strings.LastIndex(made.Link, "/")+1:]
	status, err := w.client("odile").send("POST", "/people/"+w.id["person"]+"/account/link", nil, nil, &made)
	require.NoError(w, err)
	require.Equal(w, http.StatusOK, status)
	w.id["reset"] = made.Link[strings.LastIndex(made.Link, "/")+1:]
	r, err := http.NewRequestWithContext(w.Context(), http.MethodPost, w.base+"/account/codes", strings.NewReader(url.Values{"present": {demo.Password}}.Encode()))
	require.NoError(w, err)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.AddCookie(w.cookie(w.T, "sabine"))
	answer, err := http.DefaultClient.Do(r)
	require.NoError(w, err)
	require.NoError(w, answer.Body.Close())
	require.Equal(w, http.StatusOK, answer.StatusCode)
	require.Equal(w, "/account/codes", answer.Request.URL.Path)
}

// findOwn finds a mentor's series and a member's news of a submission.
func (w *places) findOwn() {
	w.Helper()
	var lists struct{ Own []struct{ ID string } }
	status, err := w.client("sabine").do("GET", "/series", "", nil, nil, &lists)
	require.NoError(w, err)
	require.Equal(w, http.StatusOK, status)
	require.NotEmpty(w, lists.Own)
	var news struct {
		Items []struct{ ID, Submission string }
	}
	status, err = w.client("ida").do("GET", "/news", "", nil, nil, &news)
	require.NoError(w, err)
	require.Equal(w, http.StatusOK, status)
	at := slices.IndexFunc(news.Items, func(n struct{ ID, Submission string }) bool { return n.Submission != "" })
	require.GreaterOrEqual(w, at, 0, "the made-up club has no news for her")
	w.id["series"], w.id["news"] = lists.Own[0].ID, news.Items[at].ID
}

// printSheet prints a label, so that there is a sheet.
func (w *places) printSheet() {
	w.Helper()
	var made struct{ ID string }
	w.make("odile", "/sheets", map[string]any{"size": "", "paper": "", "labels": []map[string]any{{"kind": "catalogue", "specimen": w.id["specimen"]}}}, &made)
	w.id["sheet"] = made.ID
}

// findPublished finds a specimen of which the made-up club has published photos.
func (w *places) findPublished() {
	w.Helper()
	var shown string
	line := w.must("published", "odile", "/submissions?status=confirmed&size=50", func(l walkedLine) bool {
		var of struct {
			Specimen struct {
				Photos []struct {
					ID        string
					Published *struct{ License string }
				}
			}
		}
		status, err := w.client("odile").do("GET", "/specimens/"+l.Specimen, "", nil, nil, &of)
		require.NoError(w, err)
		if status != http.StatusOK { // a curator is never drawn to look blind, but a specimen may be withdrawn
			return false
		}
		for _, p := range of.Specimen.Photos {
			if p.Published != nil {
				shown = p.ID
				return true
			}
		}
		return false
	})
	w.id["published"], w.id["shown"] = line.Specimen, shown
}

// findMoments finds two moments of a submission.
func (w *places) findMoments() {
	w.Helper()
	var then struct {
		Position, Earlier int64
	}
	status, err := w.client("odile").do("GET", "/submissions/"+w.id["redetermined"]+"/as-of", "", nil, nil, &then)
	require.NoError(w, err)
	require.Equal(w, http.StatusOK, status)
	require.Positive(w, then.Earlier, "nothing has happened to it but its beginning")
	w.id["moment"], w.id["last"] = strconv.FormatInt(then.Earlier, 10), strconv.FormatInt(then.Position, 10)
}

// somebody finds a reviewer who is to look blind.
func (w *places) somebody(kind string, fits func(walkedLine) bool) {
	w.Helper()
	for _, login := range []string{"henrike", "jonas", "sabine", "ruben", "wilma", "tamsin"} {
		if line, ok := w.first(login, "/queue?size=200", fits); ok {
			w.id[kind], w.by[kind] = line.Look, login
			return
		}
	}
	require.Fail(w, "nobody is drawn", kind)
}

func (w *places) make(login, path string, body any, into any) {
	w.Helper()
	status, err := w.client(login).send("POST", path, body, nil, into)
	require.NoError(w, err)
	require.Equal(w, http.StatusCreated, status, path)
}

func (w *places) makeDraft() {
	w.Helper()
	var made struct{ Submission struct{ ID string } }
	form := clickBeetle("walked", w.client("ida").upload(w.T, drawnPicture(w.T, "whole-below")))
	form["draft"], form["family"] = true, "Buprestidae" // so that something does not fit
	w.make("ida", "/submissions", form, &made)
	w.id["draft"] = made.Submission.ID
}

func (w *places) makeChange() {
	w.Helper()
	var made struct{ ID string }
	edit := map[string]any{"family": "Elateridae", "character": "ventrites", "states": []map[string]string{
		{"state": "5", "word": "usually"}, {"state": "6-7", "word": "rarely"}, {"state": "rest", "word": "never"}}}
	w.make("odile", "/groups/coleoptera-adults/changes", map[string]any{"edit": edit, "reason": "Counted in the club's drawers."}, &made)
	w.id["change"] = made.ID
}

// makeIntake sends an archive of somebody else, with a fault.
func (w *places) makeIntake() {
	w.Helper()
	var packed bytes.Buffer
	archive := zip.NewWriter(&packed)
	for name, text := range map[string]string{
		"meta.xml": `<archive xmlns="http://rs.tdwg.org/dwc/text/"><core rowType="http://rs.tdwg.org/dwc/terms/Occurrence"><files><location>o.csv</location></files><id index="0"/>` +
			`<field index="0" term="http://rs.tdwg.org/dwc/terms/occurrenceID"/><field index="1" term="http://rs.tdwg.org/dwc/terms/scientificName"/>` +
			`<field index="2" term="http://rs.tdwg.org/dwc/terms/eventDate"/><field index="3" term="http://rs.tdwg.org/dwc/terms/waterBody"/></core></archive>`,
		"o.csv": "elsewhere-1,Agriotes lineatus,1906-06,Lake\nelsewhere-2,Carabus auratus,14.5.1907,\nelsewhere-1,twice,,\n",
	} {
		file, err := archive.Create(name)
		require.NoError(w, err)
		_, err = file.Write([]byte(text))
		require.NoError(w, err)
	}
	require.NoError(w, archive.Close())
	var made struct{ ID string }
	status, err := w.client("odile").do("POST", "/intakes", "application/zip", packed.Bytes(), nil, &made)
	require.NoError(w, err)
	require.Equal(w, http.StatusCreated, status)
	w.id["intake"] = made.ID
}

// makeInventory sends the table of an old collection, with questions and faults.
func (w *places) makeInventory() {
	w.Helper()
	table := "Nr.;Familie;Name;det.;Datum;Koordinaten;Höhe;Bemerkung\n" +
		"W-1;Bruchidae;Bruchus pisorum;A. Lattich 1931;5.6.30;47°04'N 10°41'O;1050 m;aus dem Nachlass\n" +
		"W-2;Carabidae;Carabus cf. nitens;;31.ii.1930;;1000-1100 m;\nW-2;Carabidae;Carabus auratus;;14.v.1931;;;\n"
	var made struct{ ID string }
	status, err := w.client("odile").do("POST", "/intakes?name=Sammlung-1930.csv", "text/csv", []byte(table), nil, &made)
	require.NoError(w, err)
	require.Equal(w, http.StatusCreated, status)
	w.id["inventory"] = made.ID
}

func (w *places) makeReassessment() {
	w.Helper()
	var made struct{ Key string }
	w.make("odile", "/groups/coleoptera-adults/reassessments", map[string]any{"confidence": 0.99}, &made)
	w.id["reassessment"] = made.Key
	require.Eventually(w, func() bool {
		var r struct {
			MadeAt time.Time `json:"made_at"`
		}
		status, err := w.client("odile").send("GET", "/groups/coleoptera-adults/reassessments/"+made.Key, nil, nil, &r)
		return err == nil && status == http.StatusOK && r.MadeAt.Year() > 1
	}, time.Minute, 100*time.Millisecond)
}

// keepForm sends a form after its login has ended.
func (w *places) keepForm() {
	w.Helper()
	cookie := w.cookie(w.T, "ida")
	status, err := w.client("ida").do("DELETE", "/sessions", "application/json", nil, nil, nil)
	require.NoError(w, err)
	require.Equal(w, http.StatusNoContent, status)
	delete(w.cookies, "ida") // her login has ended
	form := url.Values{"group": {"coleoptera-adults"}, "family": {"Elateridae"}, "remarks": {"typed for an hour"}, "do": {"draft"}}
	request, err := http.NewRequest("POST", w.base+"/submissions", strings.NewReader(form.Encode()))
	require.NoError(w, err)
	request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	request.AddCookie(cookie)
	answer, err := noRedirects.Do(request)
	require.NoError(w, err)
	require.NoError(w, answer.Body.Close())
	to, err := answer.Location()
	require.NoError(w, err)
	w.id["kept"] = strings.TrimPrefix(to.Query().Get("next"), "/kept/")
	require.NotEmpty(w, w.id["kept"])
}

var noRedirects = http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}

// written puts what was found into an address or a login.
func written(text string, known map[string]string) string {
	for kind, is := range known {
		text = strings.ReplaceAll(text, "{"+kind+"}", is)
	}
	return text
}

// walkers are who looks at pages, each with the stations of theirs in order.
func (w *places) walkers() map[string][]station {
	by := map[string][]station{}
	for _, s := range stations {
		s.path, s.by = written(s.path, w.id), written(s.by, w.by)
		by[s.by] = append(by[s.by], s)
	}
	return by
}

func (s station) String() string { return fmt.Sprintf("%s (%s)", s.name, s.path) }

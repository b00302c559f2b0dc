package web

import (
	"encoding/json"
	"fmt"
	"html"
	"maps"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/danielgtaylor/huma/v2"
	"github.com/stretchr/testify/require"

	"revidit/review/service"
)

// hostile is a text that would be markup, a script or an attribute where it is not escaped. Each field has one of its own.
func hostile(n int) string { return fmt.Sprintf(`<b id=x%d>"'&amp;</textarea>`, n) }

// raw is what must stand on no page: the mark as markup.
var raw = regexp.MustCompile(`<b id=x\d|"'&amp;</textarea`)

// texts are the fields of a body that hold free text, by their path ("label.locality").
func texts(doc *huma.OpenAPI, s *huma.Schema, at string) (found []string) {
	if s.Ref != "" {
		s = doc.Components.Schemas.Map()[thingName(s.Ref)]
	}
	for _, name := range slices.Sorted(maps.Keys(s.Properties)) {
		field := s.Properties[name]
		switch {
		case field.Ref != "" || field.Type == "object" && len(field.Properties) > 0:
			found = append(found, texts(doc, field, at+name+".")...)
		case field.Type == "string" && len(field.Enum) == 0 && field.Format == "" && (field.MaxLength == nil || *field.MaxLength > 60):
			found = append(found, at+name)
		}
	}
	return found
}

// with is a body in which a field has another text.
func with(t testing.TB, body any, path, text string) map[string]any {
	t.Helper()
	data, err := json.Marshal(body)
	require.NoError(t, err)
	made := map[string]any{}
	require.NoError(t, json.Unmarshal(data, &made))
	at := made
	parts := strings.Split(path, ".")
	for _, part := range parts[:len(parts)-1] {
		inner, ok := at[part].(map[string]any)
		if !ok {
			inner = map[string]any{}
			at[part] = inner
		}
		at = inner
	}
	at[parts[len(parts)-1]] = text
	return made
}

// planting puts hostile texts wherever the API takes free text, and remembers where.
type planting struct {
	*apiClub
	doc   *huma.OpenAPI
	n     int
	of    map[string]string // what a text stands in, by the text
	views []service.SubmissionView
}

// plant tries every text field of a route by itself, and keeps those that are taken.
func (p *planting) plant(r routeCase) {
	o := operationFor(p.doc, r)
	if o == nil || o.RequestBody == nil || o.RequestBody.Content["application/json"] == nil {
		return
	}
	body := r.body
	for _, field := range texts(p.doc, o.RequestBody.Content["application/json"].Schema, "") {
		p.n++
		v := p.submitted()
		text := hostile(p.n)
		data, err := json.Marshal(with(p.t, body, field, text))
		require.NoError(p.t, err)
		// As a text, in which try leaves everything as it is.
		worded := strings.NewReplacer("{id}", v.Submission.ID, "{photo}", v.Submission.Photos[0]).Replace(string(data))
		one := routeCase{method: r.method, path: r.path, body: worded}
		for _, who := range []string{"rita", "cora", "ada"} {
			if got := p.try(one, who, v); got.status < 300 {
				p.of[text] = r.method + " " + r.path + " " + field
				p.views = append(p.views, v)
				break
			}
		}
	}
}

func operationFor(doc *huma.OpenAPI, r routeCase) *huma.Operation {
	for _, o := range operationsOf(doc) {
		if o.Method == r.method && o.Path == r.template() {
			return o
		}
	}
	return nil
}

// plantWhole submits a determination in which every text is hostile, in lists as well.
func (p *planting) plantWhole() service.SubmissionView {
	form := p.form("ada")
	number := func(at string) string {
		p.n++
		p.of[hostile(p.n)] = at
		return hostile(p.n)
	}
	label, withheld := map[string]any{}, map[string]any{}
	for field, into := range map[string]map[string]any{"catalogue_number": label, "country": label, "province": label, "trip": label, "method": label, "host_plant": label, "habitat": label,
		"preparation": label, "missing_parts": label, "storage_place": label, "disposition": label, "locality": withheld, "collector": withheld, "district": withheld,
		"permit": withheld, "verbatim_label": withheld} {
		into[field] = number("label " + field)
	}
	form["label"], form["withheld"] = label, withheld
	form["remarks"], form["wording"], form["determiner_name"] = number("remarks"), number("wording"), number("determiner_name")
	form["unseen"] = []any{}
	v := p.call("ada", "POST", "/api/v1/submissions", form).is(http.StatusCreated).view()
	said := map[string]any{"verdicts": []any{map[string]any{"observation": v.Submission.Cites[0], "kind": "dispute", "note": number("verdict note")}},
		"opinion": map[string]any{"kind": "left-open", "basis": "photos", "note": number("opinion note")}}
	p.call("rita", "POST", at(v, "/reviews"), said).is(http.StatusOK)
	return v
}

// TestHostileTextComesOutAsText: whatever free text the API takes is planted as markup, and then every page is looked at, by all roles:
// it stands there as text, and as nothing else. What is shown nowhere is named.
func TestHostileTextComesOutAsText(t *testing.T) {
	club := newAPIClub(t)
	p := &planting{apiClub: club, doc: club.server.document, of: map[string]string{}}
	club.waitingSeries() // Ada is no beginner any more at the end
	whole := p.plantWhole()
	for _, r := range routeCases {
		if _, isBody := r.body.(map[string]any); isBody && !slices.Contains(notPlanted, r.path) {
			p.plant(r)
		}
	}
	require.Greater(t, len(p.of), 40)
	seen := map[string]bool{}
	look := func(who, path string) {
		got := club.call(who, http.MethodGet, path, nil)
		if !strings.HasPrefix(got.header.Get("Content-Type"), "text/html") {
			return
		}
		page := string(got.body)
		require.NotRegexp(t, raw, page, "%s for %s", path, who)
		plain := html.UnescapeString(page)
		for text := range p.of {
			if strings.Contains(plain, text) || strings.Contains(plain, strings.Join(strings.Fields(text), " ")) {
				seen[text] = true
			}
		}
	}
	paths := club.asking(whole)
	for _, text := range slices.Sorted(maps.Keys(p.of)) {
		paths = append(paths, "/submissions?"+url.Values{"q": {text}}.Encode(), "/tables/small-test-group/told?"+url.Values{"list": {text}}.Encode())
		break
	}
	for _, path := range paths {
		if strings.HasPrefix(path, apiPrefix) || strings.HasSuffix(path, "/live") {
			continue
		}
		look("cora", path)
		if strings.Contains(path, "?") {
			continue
		}
		if strings.Contains(path, "/submissions/") || strings.Contains(path, "/specimens/") {
			look("ada", path)
			look("rita", path)
		}
	}
	for list, page := range map[string][]string{"/groups/small-test-group/changes": {"/tables/small-test-group/changes/"}, "/intakes": {"/archive/intakes/", "/inventory/"}} {
		for _, item := range decoded[struct{ Items []struct{ ID string } }](club.call("cora", "GET", apiPrefix+list, nil).is(http.StatusOK)).Items {
			for _, at := range page {
				look("cora", at+item.ID)
			}
		}
	}
	look("rita", "/submissions")
	look("rita", "/search?q=a")
	for _, v := range p.views {
		look("ada", "/submissions/"+v.Submission.ID)
		look("cora", "/submissions/"+v.Submission.ID+"/history")
		look("cora", "/specimens/"+v.Submission.Specimen)
	}
	var nowhere []string
	for text, where := range p.of {
		if !seen[text] {
			nowhere = append(nowhere, where)
		}
	}
	slices.Sort(nowhere)
	require.Equal(t, shownNowhere, nowhere)
}

// notPlanted are routes that store nothing of what they get, and that on which plantWhole has planted everything.
var notPlanted = []string{"/sessions", "/submissions", "/assessments", "/groups/small-test-group/changes/preview"}

// shownNowhere are texts that are stored and shown on no page of these: each says why.
var shownNowhere = []string{
	"POST /groups/small-test-group/reassessments/{reassessment}/reviews reason", // a job reopens with it, later
	"POST /intakes/{intake}/reading sheet",                                      // no workbook: it has no sheets
	"POST /intakes/{intake}/undo reason",                                        // in the history of what was taken out, of which nothing is left to open
	"POST /specimens/{specimen}/vouching type_status",                           // for archives
	"PUT /people/{reviewer}/families reason",                                    // in the history of the account, which has no page
	"PUT /policy reason",                                                        // the page shows the last one alone, and another came after it
}

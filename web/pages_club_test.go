package web

import (
	"bytes"
	"fmt"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/textproto"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

// page asks for a page as somebody and requires its status and what every page of ours has.
func (c *apiClub) page(who, path string, status int) string {
	c.t.Helper()
	return c.shown(c.call(who, http.MethodGet, path, nil), status)
}

// shown requires that an answer is a whole page of ours with that status, and returns its text.
func (c *apiClub) shown(r *reply, status int) string {
	c.t.Helper()
	text := string(r.body)
	require.Equal(c.t, status, r.status, text)
	require.Equal(c.t, "text/html; charset=utf-8", r.header.Get("Content-Type"))
	require.Equal(c.t, 1, strings.Count(text, "<h1"), "one first heading")
	require.Equal(c.t, 1, strings.Count(text, "<main "), "one main landmark")
	require.True(c.t, strings.HasSuffix(strings.TrimSpace(text), "</html>"), "the page is whole")
	require.Contains(c.t, text, `href="#content"`, "a link to skip the navigation")
	// What the content policy forbids: a browser would drop it.
	require.NotRegexp(c.t, regexp.MustCompile(`<style|\sstyle=|\son[a-z]+=|<script>`), text)
	uniqueIDs(c.t, text)
	return text
}

func uniqueIDs(t testing.TB, text string) {
	t.Helper()
	seen := map[string]bool{}
	for _, m := range regexp.MustCompile(`\sid="([^"]*)"`).FindAllStringSubmatch(text, -1) {
		require.False(t, seen[m[1]], "id %q stands twice", m[1])
		seen[m[1]] = true
	}
	for _, m := range regexp.MustCompile(`\s(?:for|aria-labelledby)="([^"]*)"`).FindAllStringSubmatch(text, -1) {
		require.True(t, seen[m[1]], "id %q is meant and missing", m[1])
	}
}

// post sends a form as a browser does.
func (c *apiClub) post(who, path string, fields url.Values) *reply {
	c.t.Helper()
	return c.call(who, http.MethodPost, path, fields.Encode(), "Content-Type", "application/x-www-form-urlencoded", "Sec-Fetch-Site", "same-origin")
}

// file is a file of a form.
type file struct {
	name string
	data []byte
}

// postFiles sends a form with files as a browser does.
func (c *apiClub) postFiles(who, path string, fields url.Values, files ...file) *reply {
	c.t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	for name, values := range fields {
		for _, v := range values {
			require.NoError(c.t, form.WriteField(name, v))
		}
	}
	for _, f := range files {
		header := textproto.MIMEHeader{"Content-Disposition": {fmt.Sprintf(`form-data; name="files"; filename=%q`, f.name)}, "Content-Type": {"image/jpeg"}}
		part, err := form.CreatePart(header)
		require.NoError(c.t, err)
		_, err = part.Write(f.data)
		require.NoError(c.t, err)
	}
	require.NoError(c.t, form.Close())
	return c.call(who, http.MethodPost, path, body.Bytes(), "Content-Type", form.FormDataContentType(), "Sec-Fetch-Site", "same-origin")
}

// goesTo requires a redirect after a form was taken, and returns where it leads.
func (r *reply) goesTo() string {
	r.t.Helper()
	require.Equal(r.t, http.StatusSeeOther, r.status, string(r.body))
	return r.header.Get("Location")
}

// submissionFields is a whole submission form with one uploaded photo.
func (c *apiClub) submissionFields(who string) url.Values {
	c.t.Helper()
	return url.Values{
		"label.catalogue_number": {"AB-7"}, "label.country": {"Austria"}, "withheld.latitude": {"47.123"}, "withheld.longitude": {"15.456"},
		"withheld.locality": {"A meadow"}, "family": {"Elateridae"}, "photos[0].photo": {c.upload(who)}, "photos[0].view": {"below"},
		"obs[ventrites].state": {"5"}, "obs[ventrites].sureness": {"fairly-sure"}, "do": {"submit"}, "key": {"key-of-" + who},
	}
}

func idIn(t testing.TB, location string) string {
	t.Helper()
	id := strings.TrimPrefix(location, "/submissions/")
	require.NotEmpty(t, id)
	require.NotContains(t, id, "/")
	return id
}

func (c *apiClub) viewOf(who, id string) service.SubmissionView {
	c.t.Helper()
	v, err := c.server.Service.View(c.t.Context(), c.actor(who), id)
	require.NoError(c.t, err)
	return v
}

func (c *apiClub) actor(who string) review.Actor {
	return review.Actor{Person: c.people[who], Name: "Name of " + who, Role: clubRoles[who]}
}

// browse is one request without any login.
func (c *apiClub) browse(method, path string) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	c.handler.ServeHTTP(w, httptest.NewRequestWithContext(c.t.Context(), method, path, nil))
	return w
}

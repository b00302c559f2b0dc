package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/require"
)

// Every page, as each role that may see it, and one of its errors.
func TestPages(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	draft := club.draft()
	id, specimen := v.Submission.ID, v.Specimen.ID
	for _, page := range []struct {
		who, path string
		status    int
		contains  string
	}{
		{"ada", "/", 200, "Your specimens"},
		{"rita", "/", 200, "First in the queue"},
		{"cora", "/", 200, "The collection under review"},
		{"ada", "/submissions", 200, "AB-1"},
		{"ada", "/submissions?q=ab-1&status=open&family=Elateridae&mine=yes", 200, "AB-1"},
		{"ada", "/submissions?q=nothing-like-it", 200, "Nothing here."},
		{"ada", "/submissions?status=wrong", 400, "must be one of"},
		{"ada", "/submissions?cursor=wrong", 400, "cursor"},
		{"ada", "/submissions/new", 200, "Submit a specimen"},
		{"ada", "/submissions/" + id, 200, "What the characters say"},
		{"rita", "/submissions/" + id, 200, "stay closed until you have saved yours"},
		{"rita", "/submissions/no-such", 404, "There is nothing here"},
		{"rita", "/submissions/" + draft.Submission.ID, 404, "There is nothing here"},
		{"rita", "/submissions/" + id + "/review", 200, "Look again"},
		{"ada", "/submissions/" + id + "/review", 403, "nobody reviews a determination of their own"},
		{"ada", "/submissions/" + id + "/history", 200, "registered the specimen"},
		{"ada", "/submissions/no-such/history", 404, "There is nothing here"},
		{"ada", "/submissions/" + id + "/answer", 200, "Take back what was mistaken"},
		{"ben", "/submissions/" + id + "/answer", 403, "You may not do this"},
		{"ada", "/submissions/" + draft.Submission.ID + "/edit", 200, "Go on with the draft"},
		{"ada", "/submissions/" + id + "/edit", 409, "It has changed in the meantime"},
		{"rita", "/queue", 200, "AB-1"},
		{"rita", "/queue?family=Elateridae&trip=May+trip&drawer=Drawer+7", 200, "AB-1"},
		{"rita", "/queue?trip=Another", 200, "Nothing waits here."},
		{"ada", "/queue", 403, "You may not do this"},
		{"ada", "/specimens/" + specimen, 200, "Determinations of this specimen"},
		{"ada", "/specimens/no-such", 404, "There is nothing here"},
		{"ada", "/specimens/" + specimen + "/label", 200, "Correct the label data"},
		{"ben", "/specimens/" + specimen + "/label", 403, "Only its owner and a curator"},
		{"ada", "/tables/small-test-group/sheets/Elateridae", 200, "click beetles"},
		{"ada", "/policy", 200, "When a name stands"},
		{"cora", "/policy", 200, "Put a new policy in force"},
		{"ada", "/nowhere", 404, "nothing at this address"},
	} {
		t.Run(page.who+" "+page.path, func(t *testing.T) {
			club.t = t
			require.Contains(t, club.page(page.who, page.path, page.status), page.contains)
		})
	}
	club.t = t
	require.NotContains(t, club.page("ada", "/policy", 200), "Put a new policy in force", "only curators change it")
}

func TestWhoIsNotLoggedInIsSentToLogIn(t *testing.T) {
	club := newAPIClub(t)
	w := club.browse(http.MethodGet, "/submissions?q=a%26b")
	require.Equal(t, http.StatusSeeOther, w.Code)
	require.Equal(t, "/login?next=%2Fsubmissions%3Fq%3Da%2526b", w.Header().Get("Location"))
	require.Equal(t, "/login", club.browse(http.MethodPost, "/submissions").Header().Get("Location"), "a form is not sent twice")
	require.Equal(t, http.StatusOK, club.browse(http.MethodGet, "/login").Code)
}

func TestLogin(t *testing.T) {
	club := newAPIClub(t)
	login := func(password, next string) *reply {
		return club.post("", "/login", url.Values{"login": {"ada"}, "password": {password}, "next": {next}})
	}
	r := login(clubPassword, "/queue?trip=a")
	require.Equal(t, "/queue?trip=a", r.goesTo())
	require.Contains(t, r.header.Get("Set-Cookie"), "HttpOnly")

	text := club.shown(login("wrong", "/families"), http.StatusUnauthorized)
	require.Contains(t, text, `value="ada"`, "the login name is kept")
	require.Contains(t, text, `value="/families"`, "so is the way on")
	require.Contains(t, text, "wrong")
	require.NotContains(t, text, clubPassword)

	for range 20 {
		r = login("wrong", "")
	}
	club.shown(r, http.StatusTooManyRequests)
	require.NotEmpty(t, r.header.Get("Retry-After"))

	copied := club.cookie("ada")
	club.call("", "GET", "/api/v1/me", nil, "Cookie", copied).is(http.StatusOK)
	out := club.call("", "POST", "/logout", "", "Content-Type", "application/x-www-form-urlencoded", "Sec-Fetch-Site", "same-origin", "Cookie", copied)
	club.call("", "GET", "/api/v1/me", nil, "Cookie", copied).is(http.StatusUnauthorized)
	require.Equal(t, "/login", out.goesTo())
	require.Contains(t, out.header.Get("Set-Cookie"), "Max-Age=0")
	require.Equal(t, `"cache", "storage"`, out.header.Get("Clear-Site-Data"))
}

// A request that ran out of time still gets a whole page that says so.
func TestPageOfARequestThatTookTooLong(t *testing.T) {
	club := newAPIClub(t)
	club.server.Timeout = time.Nanosecond
	text := club.page("ada", "/tables", http.StatusServiceUnavailable)
	require.Contains(t, text, "This took too long")
}

func TestPageOfAFault(t *testing.T) {
	club := newAPIClub(t)
	club.engine.GET("/broken", func(*gin.Context) { panic("a fault") })
	text := club.page("ada", "/broken", http.StatusInternalServerError)
	require.Contains(t, text, "A fault of ours")
	require.NotContains(t, text, "a fault<")
	require.Regexp(t, `<code>[0-9a-f-]{36}</code>`, text, "the number of the request")
}

// Cases of addresses that browsers take for another site's: common practice, no source.
func TestLocalPath(t *testing.T) {
	for _, local := range []string{"/", "/submissions", "/submissions/1?q=a%20b#x", "/a//b"} {
		require.Equal(t, local, localPath(local))
	}
	for _, foreign := range []string{"", "submissions", "//elsewhere.example", "/\\elsewhere.example", "https://elsewhere.example/", "javascript:alert(1)",
		"/\t/elsewhere.example", "\\\\elsewhere.example", "///elsewhere.example", "/%zz"} {
		require.Equal(t, "/", localPath(foreign), foreign)
	}
}

func TestStaticFiles(t *testing.T) {
	club := newAPIClub(t)
	text := club.page("ada", "/tables", 200)
	for _, name := range []string{"style.css", "pages.js"} {
		at := strings.Index(text, "/static/"+name+"?v=")
		require.Positive(t, at)
		address, _, _ := strings.Cut(text[at:], `"`)
		w := club.browse(http.MethodGet, address)
		require.Equal(t, 200, w.Code)
		require.Contains(t, w.Header().Get("Cache-Control"), "immutable")
		require.NotContains(t, club.browse(http.MethodGet, "/static/"+name).Header().Get("Cache-Control"), "immutable")
		require.NotContains(t, club.browse(http.MethodGet, "/static/"+name).Header().Get("Vary"), "Cookie", "the same for everybody")
	}
	require.Equal(t, 404, club.browse(http.MethodGet, "/static/static.go").Code)
}

func TestPhotoBytes(t *testing.T) {
	club := newAPIClub(t)
	photo := club.upload("ada")
	r := club.call("ada", http.MethodGet, "/photos/"+photo+"/thumb", nil)
	require.Equal(t, 200, r.status)
	require.Equal(t, "image/jpeg", r.header.Get("Content-Type"))
	require.Contains(t, r.header.Get("Cache-Control"), "private")
	again := club.call("ada", http.MethodGet, "/photos/"+photo+"/thumb", nil, "If-None-Match", r.header.Get("ETag"))
	require.Equal(t, http.StatusNotModified, again.status)
	require.Empty(t, again.body)
	require.Equal(t, 404, club.call("ben", http.MethodGet, "/photos/"+photo+"/thumb", nil).status, "an upload is its uploader's alone")
	require.Equal(t, 404, club.call("ada", http.MethodGet, "/photos/"+photo+"/huge", nil).status)
}

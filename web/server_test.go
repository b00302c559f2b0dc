package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
)

// RFC 9457 section 3: the members of a problem, as its published examples have them.
func TestProblemHasThePublishedForm(t *testing.T) {
	text, err := os.ReadFile("testdata/problem_details.json")
	require.NoError(t, err)
	var published map[string]json.RawMessage
	require.NoError(t, json.Unmarshal(text, &published))
	for _, name := range []string{"out_of_credit", "validation_error"} {
		var example struct {
			Status  int `json:"http_status"`
			Headers map[string]string
			Body    map[string]any
		}
		require.NoError(t, json.Unmarshal(published[name], &example))
		require.Equal(t, problemMedia, example.Headers["Content-Type"])
		ours, err := json.Marshal(newProblem(example.Status, "What happened.", review.FieldProblem{Field: "age", Message: "must be filled in"}))
		require.NoError(t, err)
		var members map[string]any
		require.NoError(t, json.Unmarshal(ours, &members))
		for _, standard := range []string{"type", "title", "detail", "instance"} {
			require.Contains(t, members, standard)
			if example.Body[standard] != nil {
				require.IsType(t, example.Body[standard], members[standard], standard)
			}
		}
		require.InDelta(t, example.Status, members["status"], 0)
		require.IsType(t, []any{}, members["errors"], "a list, as in the published example")
	}
}

func TestEveryKindOfErrorHasAStatus(t *testing.T) {
	for kind, want := range map[review.Kind]int{review.KindInvalid: 400, review.KindUnknownActor: 401, review.KindForbidden: 403,
		review.KindNotFound: 404, review.KindConflict: 409, review.KindStale: 412, review.KindBlind: 409, review.KindTooMany: 429} {
		p, known := problemOf(fmt.Errorf("wrapped: %w", review.Errorf(kind, "What happened.")))
		require.True(t, known)
		require.Equal(t, want, p.Status)
		require.Equal(t, "What happened.", p.Detail)
	}
	require.Len(t, statusOf, 11)
	for err, want := range map[error]int{&auth.TooManyError{Wait: time.Second}: 429, &http.MaxBytesError{Limit: 5}: 413, context.DeadlineExceeded: 503} {
		p, known := problemOf(fmt.Errorf("wrapped: %w", err))
		require.True(t, known)
		require.Equal(t, want, p.Status)
	}
	for _, fault := range []error{errors.New("disk full"), review.Errorf("new-kind", "What happened.")} {
		p, known := problemOf(fault)
		require.False(t, known)
		require.Equal(t, 500, p.Status)
		require.Equal(t, internalError, p.Detail)
	}
}

func TestFaultsStayInside(t *testing.T) {
	club := newAPIClub(t)
	club.engine.GET("/api/fault", func(c *gin.Context) { club.server.fail(c, errors.New("disk full at secret place")) })
	club.engine.GET("/api/panic", func(c *gin.Context) { panic("nil pointer at secret place") })
	for _, path := range []string{"/api/fault", "/api/panic"} {
		club.log.Reset()
		got := club.call("ada", "GET", path, nil).is(http.StatusInternalServerError)
		require.NotContains(t, string(got.body), "secret")
		require.Contains(t, club.log.String(), "secret place")
		require.Contains(t, club.log.String(), got.header.Get("X-Request-Id"))
	}
}

func TestUnknownAddressesAndMethods(t *testing.T) {
	club := newAPIClub(t)
	club.call("ada", "GET", "/api/v1/nothing", nil).is(http.StatusNotFound)
	club.call("", "GET", "/api/nothing", nil).is(http.StatusNotFound)
	club.call("ada", "GET", "/api/v1/submissions/", nil).is(http.StatusNotFound)
	club.call("ada", "GET", "/api/v1/people/\xff", nil).is(http.StatusNotFound)
	got := club.call("ada", "PATCH", "/api/v1/policy", nil).is(http.StatusMethodNotAllowed)
	require.Equal(t, "GET, PUT", got.header.Get("Allow"))
}

func TestHead(t *testing.T) {
	club := newAPIClub(t)
	server := httptest.NewServer(club.handler)
	defer server.Close()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodHead, server.URL+"/api/v1/openapi.json", nil)
	require.NoError(t, err)
	got, err := server.Client().Do(r)
	require.NoError(t, err)
	defer got.Body.Close()
	require.Equal(t, http.StatusOK, got.StatusCode)
	require.Equal(t, "application/openapi+json", got.Header.Get("Content-Type"))
	require.Equal(t, http.NoBody, got.Body)
}

func TestOtherSitesAreRefused(t *testing.T) {
	club := newAPIClub(t, func(c *Config, _ *auth.Options) { c.Origins = []string{"https://beetles.example"} })
	cookie := club.cookie("ada")
	draft := map[string]any{"draft": true}
	post := func(path string, headers ...string) *reply {
		return club.call("", "POST", path, draft, append(headers, "Cookie", cookie)...)
	}
	for _, headers := range [][]string{{"Sec-Fetch-Site", "cross-site"}, {"Sec-Fetch-Site", "same-site"}, {"Origin", "https://evil.example"}, {"Origin", "null"}} {
		post("/api/v1/submissions", headers...).is(http.StatusForbidden)
		post("/api/nothing", headers...).is(http.StatusForbidden)
	}
	for _, headers := range [][]string{nil, {"Sec-Fetch-Site", "same-origin"}, {"Sec-Fetch-Site", "none"}, {"Origin", "http://example.com"}, {"Origin", "https://beetles.example"}} {
		post("/api/v1/submissions", headers...).is(http.StatusCreated)
	}
	club.call("", "GET", "/api/v1/me", nil, "Cookie", cookie, "Sec-Fetch-Site", "cross-site").is(http.StatusOK)
	require.Len(t, decoded[lines](club.call("ada", "GET", "/api/v1/submissions?status=draft", nil)).Items, 5)
}

func TestHeaders(t *testing.T) {
	for _, secure := range []bool{true, false} {
		club := newAPIClub(t, func(c *Config, _ *auth.Options) { c.Secure = secure })
		for _, got := range []*reply{club.call("ada", "GET", "/api/v1/me", nil), club.call("", "GET", "/api/nothing", nil),
			club.call("", "POST", "/api/v1/me", nil, "Origin", "https://evil.example")} {
			require.Contains(t, got.header.Get("Content-Security-Policy"), "default-src 'self'; img-src 'self' blob: data:;")
			require.Equal(t, "nosniff", got.header.Get("X-Content-Type-Options"))
			require.Equal(t, "same-origin", got.header.Get("Referrer-Policy"))
			require.Contains(t, got.header.Get("Vary"), "Cookie")
			require.Empty(t, got.header.Get("Strict-Transport-Security"), "it did not come over TLS")
			require.Len(t, got.header.Get("X-Request-Id"), 36)
		}
	}
}

// HTML standard, cross-origin opener policy, and W3C Fetch Metadata, section 2.3.
func TestWindowsThatAnotherSiteOpenedAreCutOff(t *testing.T) {
	club := newAPIClub(t)
	for from, policy := range map[string]string{"cross-site": "same-origin", "same-site": "same-origin", "": "same-origin", "none": "", "same-origin": ""} {
		got := club.call("", "GET", "/login", nil, "Sec-Fetch-Site", from)
		require.Equal(t, policy, got.header.Get("Cross-Origin-Opener-Policy"), from)
		require.Contains(t, got.header.Get("Vary"), "Sec-Fetch-Site")
	}
}

func TestSessionCookie(t *testing.T) {
	for _, secure := range []bool{true, false} {
		club := newAPIClub(t, func(c *Config, _ *auth.Options) { c.Secure = secure })
		w := httptest.NewRecorder()
		c, _ := gin.CreateTestContext(w)
		c.Request = httptest.NewRequestWithContext(t.Context(), http.MethodPost, "/login", nil)
		club.server.setSession(c, "a.b.c")
		cookie := w.Result().Cookies()[0]
		require.Equal(t, map[bool]string{true: "__Host-revidit", false: "revidit"}[secure], cookie.Name)
		require.Empty(t, cookie.Domain, "as the prefix asks (RFC 6265bis section 4.1.3.2)")
		require.Equal(t, "a.b.c", cookie.Value)
		require.True(t, cookie.HttpOnly)
		require.Equal(t, secure, cookie.Secure)
		require.Equal(t, http.SameSiteLaxMode, cookie.SameSite)
		require.Equal(t, "/", cookie.Path)
		require.Equal(t, (12+7*24)*60*60, cookie.MaxAge, "a week longer than anybody acts by it, so that it is known whose a form is that is sent then")
	}
}

func TestLogHoldsNoSecrets(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	ada, rita := club.token("ada"), club.token("rita")
	club.log.Reset()
	club.call("", "POST", "/api/v1/sessions", map[string]any{"login": "ada", "password": clubPassword}, "X-Request-Id", "forged")
	club.call("ada", "GET", at(v, ""), nil, "Cookie", "revidit="+rita)
	club.call("ada", "GET", "/api/v1/submissions?text=meadow", nil)
	text := club.log.String()
	require.Equal(t, 3, strings.Count(text, "msg=request"))
	require.Contains(t, text, "route=/api/v1/submissions/:id status=200")
	for _, secret := range []string{clubPassword, ada, rita, v.Submission.ID, "meadow", "forged"} {
		require.NotContains(t, text, secret)
	}
	for line := range strings.Lines(text) {
		if !strings.Contains(line, "msg=security") {
			require.NotRegexp(t, `\bada\b`, line, "as a word: the ids of requests may have such letters in them")
		}
	}
}

func TestTimeout(t *testing.T) {
	club := newAPIClub(t, func(c *Config, _ *auth.Options) { c.Timeout = time.Nanosecond })
	club.call("", "POST", "/api/v1/sessions", map[string]any{"login": "ada", "password": clubPassword}).is(http.StatusServiceUnavailable)
}

func TestNewRefusesBadConfiguration(t *testing.T) {
	_, err := New(Config{})
	require.ErrorContains(t, err, "service")
	good := newAPIClub(t).server.Config
	for _, change := range []func(*Config){func(c *Config) { c.TrustedProxies = []string{"nowhere"} }, func(c *Config) { c.Origins = []string{"beetles"} }} {
		bad := good
		change(&bad)
		_, err := New(bad)
		require.ErrorContains(t, err, "trusted")
	}
}

func TestServerCutsOffSlowSenders(t *testing.T) {
	s, err := New(newAPIClub(t).server.Config)
	require.NoError(t, err)
	require.NotZero(t, s.ReadHeaderTimeout)
	require.NotZero(t, s.ReadTimeout)
	require.NotZero(t, s.WriteTimeout)
	require.NotZero(t, s.IdleTimeout)
	require.Greater(t, s.WriteTimeout, photoTimeout, "a photo's answer must still be sent")
}

package web

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
)

func TestOftenness(t *testing.T) {
	now := time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)
	o := newOftenness(6)
	o.now = func() time.Time { return now }
	for i := range 6 * oftenAtOnce {
		require.Zero(t, o.take("ada", "here"), i)
	}
	require.Equal(t, 10*time.Second, o.take("ada", "here"), "six in a minute")
	require.Equal(t, 10*time.Second, o.take("ada", "elsewhere"), "and what was refused counts for nothing")
	now = now.Add(10 * time.Second)
	require.Zero(t, o.take("ada", "here"))
	require.NotZero(t, o.take("ada", "here"))
	for i := range 6 * oftenAtOnce * (oftenAddress - 1) {
		require.Zero(t, o.take(fmt.Sprint("somebody ", i), "here"), i)
	}
	for range 6 * oftenAtOnce { // ten seconds have given the address four more
		o.take(fmt.Sprint("another ", time.Now()), "here")
	}
	require.NotZero(t, o.take("one more", "here"), "an address has as much as four accounts")
	require.Zero(t, o.take("one more", "elsewhere"))
	now = now.Add(time.Hour)
	for i := range mostSeen {
		o.seen[fmt.Sprint(i)] = o.of("whoever", 1)
	}
	o.forget(now)
	require.Empty(t, o.seen, "nobody is remembered who may do everything again")
}

// TestWhatIsSentTooOftenIsRefused: drafts and files are counted by account and address, on pages and in the API; what a form held is kept.
func TestWhatIsSentTooOftenIsRefused(t *testing.T) {
	club := newAPIClub(t, func(c *Config, _ *auth.Options) { c.DraftsPerMinute, c.UploadsPerMinute = 1, 1 })
	body := map[string]any{"draft": true, "family": "Elateridae"}
	for range oftenAtOnce {
		club.call("ada", "POST", "/api/v1/submissions", body).is(http.StatusCreated)
	}
	refused := club.call("ada", "POST", "/api/v1/submissions", body).is(http.StatusTooManyRequests)
	wait, err := strconv.Atoi(refused.header.Get("Retry-After"))
	require.NoError(t, err)
	require.True(t, wait > 30 && wait <= 60, wait)
	require.Contains(t, refused.problem().Detail, "what was stored before is safe")
	club.call("ada", "GET", "/api/v1/submissions", nil).is(http.StatusOK)

	page := club.shown(club.post("ada", "/submissions", url.Values{"family": {"Elateridae"}, "remarks": {"typed with care"}, "do": {"save"}}), http.StatusTooManyRequests)
	kept := regexp.MustCompile(`href="(/kept/[^"]+)"`).FindStringSubmatch(page)
	require.NotEmpty(t, kept, page)
	require.Contains(t, club.page("ada", kept[1], http.StatusOK), "typed with care")

	for range oftenAtOnce {
		club.upload("ben")
	}
	club.call("ben", "POST", "/api/v1/photos", picture(t, 1), "Content-Type", "image/jpeg").is(http.StatusTooManyRequests)
	club.call("ben", "POST", "/api/v1/submissions", body).is(http.StatusCreated)
	require.Contains(t, securityLines(club.log.String()), `event="too often" account=ben address=192.0.2.1`)
}

// TestTheCountedRoutesAreThere: each one changes something.
func TestTheCountedRoutesAreThere(t *testing.T) {
	club := newAPIClub(t)
	var there []string
	for _, r := range club.engine.Routes() {
		if r.Method == http.MethodPost || r.Method == http.MethodPut {
			there = append(there, r.Path)
		}
	}
	require.Subset(t, there, slices.Concat(uploadRoutes, draftRoutes))
}

// endless is a body that goes on as long as somebody reads it.
type endless struct {
	begin string
	read  int
}

func (e *endless) Read(p []byte) (int, error) {
	if e.read > 2*int(maxTextBody)+40<<20 {
		return 0, errors.New("somebody reads without an end")
	}
	n := copy(p, e.begin)
	e.begin = e.begin[n:]
	for i := n; i < len(p); i++ {
		p[i] = 'a'
	}
	e.read += len(p)
	return len(p), nil
}

// TestEveryBodyIsBounded: whatever is sent to whichever route, no more of it is read than text or one photo may have.
func TestEveryBodyIsBounded(t *testing.T) {
	club := newAPIClub(t, func(_ *Config, o *auth.Options) { o.Limits.PerPair = auth.Limit{Burst: 1000, Every: time.Second} })
	for _, r := range club.engine.Routes() {
		if r.Method == http.MethodGet || r.Method == http.MethodHead || r.Method == http.MethodOptions {
			continue
		}
		path := regexp.MustCompile(`:\w+|\*\w+`).ReplaceAllString(r.Path, "none")
		for media, most := range map[string]int{"application/json": maxTextBody, "application/x-www-form-urlencoded": maxTextBody, "text/plain": maxTextBody,
			"image/jpeg": 40 << 20, "application/zip": 40 << 20} {
			if media == "application/zip" && strings.HasSuffix(r.Path, "/intakes") {
				continue // an archive of a whole collection; TestBounds of review/darwincore
			}
			body := &endless{begin: `{"a":"`}
			request, err := http.NewRequestWithContext(t.Context(), r.Method, path, io.NopCloser(body))
			require.NoError(t, err)
			request.RemoteAddr = "192.0.2.1:1234"
			request.ContentLength = -1
			request.Header.Set("Content-Type", media)
			request.Header.Set("Authorization", "Bearer "+club.token("cora"))
			got := club.send(request)
			require.LessOrEqual(t, body.read, most+64<<10, "%s %s %s: %d", r.Method, r.Path, media, got.status)
			if body.read > 0 {
				require.GreaterOrEqual(t, got.status, 300, "%s %s %s", r.Method, r.Path, media)
			}
			if got.status == http.StatusUnauthorized || strings.HasSuffix(r.Path, "/logout") || strings.HasSuffix(r.Path, "/sessions") {
				delete(club.tokens, "cora")
			}
		}
	}
}

// TestEveryRouteEndsInTime: what takes longer than a request may is given up, on every route that asks for anything.
func TestEveryRouteEndsInTime(t *testing.T) {
	club := newAPIClub(t)
	token := club.token("cora")
	club.server.Timeout = time.Nanosecond
	var others []string
	for _, r := range club.engine.Routes() {
		path := regexp.MustCompile(`:\w+|\*\w+`).ReplaceAllString(r.Path, "none")
		got := club.call("", r.Method, path, nil, "Authorization", "Bearer "+token)
		if got.status != http.StatusServiceUnavailable {
			others = append(others, r.Method+" "+r.Path)
			continue
		}
		require.NotEmpty(t, got.header.Get("Retry-After"), r.Path)
	}
	slices.Sort(others)
	require.Equal(t, []string{"GET /healthz", "GET /static/:name", "HEAD /static/:name", "OPTIONS /iiif/*path"}, slices.DeleteFunc(others, func(r string) bool {
		return strings.HasPrefix(r, "GET /iiif/") || strings.HasPrefix(r, "GET /published/")
	}))
}

package web

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/auth"
)

// httptest sends from 192.0.2.1.
const testProxy = "192.0.2.1"

// TestBehindAProxy: what a proxy says counts only where it is configured (RFC 6797 section 7.2: no HSTS over plain HTTP).
func TestBehindAProxy(t *testing.T) {
	const hsts = "max-age=31536000; includeSubDomains"
	for name, test := range map[string]struct {
		proxies  []string
		secure   bool
		scheme   string
		wantHSTS string
		wantHost bool // the cookie has the prefix and is for HTTPS
	}{
		"a proxy that says https":          {[]string{testProxy}, false, "https", hsts, true},
		"a network of proxies":             {[]string{"192.0.2.0/24"}, true, "HTTPS", hsts, true},
		"a proxy that says http":           {[]string{testProxy}, false, "http", "", false},
		"the first of several says http":   {[]string{testProxy}, false, "http, https", "", false},
		"somebody else says https":         {nil, false, "https", "", false},
		"another proxy":                    {[]string{"198.51.100.1"}, false, "https", "", false},
		"plain HTTP on one machine":        {nil, false, "", "", false},
		"a proxy that is not believed yet": {nil, true, "https", "", true},
	} {
		t.Run(name, func(t *testing.T) {
			club := newAPIClub(t, func(c *Config, _ *auth.Options) { c.TrustedProxies, c.Secure = test.proxies, test.secure })
			scheme := []string{"X-Forwarded-Proto", test.scheme}
			login := club.call("", "POST", "/login", "login=ada&password="+strings.ReplaceAll(clubPassword, " ", "+"),
				append(scheme, "Content-Type", "application/x-www-form-urlencoded")...)
			require.Equal(t, "/", login.goesTo())
			require.Equal(t, test.wantHSTS, login.header.Get("Strict-Transport-Security"))
			cookie, err := http.ParseSetCookie(login.header.Get("Set-Cookie"))
			require.NoError(t, err)
			require.Equal(t, test.wantHost, cookie.Secure)
			require.Equal(t, test.wantHost, strings.HasPrefix(cookie.Name, "__Host-"))

			with := func(name string) int {
				return club.call("", "GET", "/api/v1/me", nil, append(scheme, "Cookie", name+"="+cookie.Value)...).status
			}
			require.Equal(t, http.StatusOK, with(cookie.Name))
			other := map[bool]string{true: "revidit", false: "__Host-revidit"}[test.wantHost]
			require.Equal(t, http.StatusUnauthorized, with(other), "a neighbouring host can set the plain one")
		})
	}
}

func TestPagesAreNotKept(t *testing.T) {
	club := newAPIClub(t)
	for _, path := range []string{"/", "/submissions", "/policy", "/nothing"} {
		require.Equal(t, "no-store", club.call("ada", "GET", path, nil).header.Get("Cache-Control"), path)
	}
	require.Equal(t, "no-store", club.call("", "GET", "/login", nil).header.Get("Cache-Control"))
	require.Equal(t, "no-cache", club.call("ada", "GET", "/static/style.css", nil).header.Get("Cache-Control"))
}

package auth_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/models/modelstest"
	"revidit/review"
)

// What a provider says of itself is bounded, comes from where it was set, and names nothing but endpoints over TLS (or on the machine
// itself, RFC 8252 section 8.3); else nobody is sent there.
func TestWhatAProviderSaysOfItself(t *testing.T) {
	var says atomic.Value
	var asked atomic.Int32
	var at string
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asked.Add(1)
		says.Load().(http.HandlerFunc)(w, r)
	}))
	defer server.Close()
	at = server.URL
	store := modelstest.SQLite(t)
	document := func(issuer, token, more string) http.HandlerFunc {
		return func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", "application/json")
			fmt.Fprintf(w, `{"issuer":%q,"authorization_endpoint":%q,"token_endpoint":%q,"jwks_uri":%q%s}`, issuer, at+"/a", token, at+"/k", more)
		}
	}
	for name, c := range map[string]struct {
		says http.HandlerFunc
		good bool
	}{
		"good":              {document(at, at+"/t", ""), true},
		"another issuer":    {document("https://elsewhere.example", at+"/t", ""), false},
		"plain HTTP":        {document(at, "http://elsewhere.example/t", ""), false},
		"no endpoint":       {document(at, "", ""), false},
		"no JSON":           {func(w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, "<html>") }, false},
		"too large":         {document(at, at+"/t", `,"padding":"`+strings.Repeat("x", 1<<20)+`"`), false},
		"another signing":   {document(at, at+"/t", `,"id_token_signing_alg_values_supported":["HS256","none"]`), false},
		"fault":             {func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusBadGateway) }, false},
		"leading to":        {func(w http.ResponseWriter, r *http.Request) { http.Redirect(w, r, at+"/other", http.StatusFound) }, false},
		"padding that fits": {document(at, at+"/t", `,"padding":"`+strings.Repeat("x", 1<<19)+`"`), true},
	} {
		says.Store(c.says)
		provider, err := auth.NewProvider(auth.ProviderConfig{Issuer: at, ClientID: "c", Secret: "s", Redirect: "https://revidit.example/back"})
		require.NoError(t, err)
		club := newClubAt(t, store, auth.Options{Limits: wide, Provider: provider})
		before := asked.Load()
		to, _, err := club.BeginProviderLogin(t.Context(), "/", address)
		if c.good {
			require.NoError(t, err, name)
			require.Contains(t, to, at+"/a?")
			continue
		}
		require.Equal(t, review.KindDown, review.KindOf(err), name)
		_, _, err = club.BeginProviderLogin(t.Context(), "/", address)
		require.Equal(t, review.KindDown, review.KindOf(err), name)
		require.Equal(t, before+1, asked.Load(), "%s: not asked again at once, nor anybody else", name)
	}
}

func TestProvidersThatAreNone(t *testing.T) {
	good := auth.ProviderConfig{Issuer: "https://login.museum.example", ClientID: "c", Secret: "s", Redirect: "https://revidit.example/back"}
	_, err := auth.NewProvider(good)
	require.NoError(t, err)
	for name, spoil := range map[string]func(*auth.ProviderConfig){
		"plain HTTP":        func(c *auth.ProviderConfig) { c.Issuer = "http://login.museum.example" },
		"no address":        func(c *auth.ProviderConfig) { c.Issuer = "login.museum.example" },
		"a login in it":     func(c *auth.ProviderConfig) { c.Issuer = "https://a:b@login.museum.example" },
		"no secret":         func(c *auth.ProviderConfig) { c.Secret = "" },
		"no client":         func(c *auth.ProviderConfig) { c.ClientID = "" },
		"back over no TLS":  func(c *auth.ProviderConfig) { c.Redirect = "http://revidit.example/back" },
		"no address before": func(c *auth.ProviderConfig) { c.Redirect = "" },
	} {
		bad := good
		spoil(&bad)
		_, err := auth.NewProvider(bad)
		require.Error(t, err, name)
	}
}

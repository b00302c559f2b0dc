// Package providertest starts a real OpenID provider for tests: that of the module zitadel/oidc, with the storage of its example, on the
// loopback. Whoever tests may have its ID tokens altered on their way.
package providertest

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/rsa"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"io"
	"log/slog"
	"maps"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/go-jose/go-jose/v4"
	"github.com/stretchr/testify/require"
	"github.com/zitadel/oidc/v3/example/server/storage"
	"github.com/zitadel/oidc/v3/pkg/op"
)

// What the provider knows this service by, and two people whom it knows with the password of both (storage.NewUserStore of the module).
const (
	Client, Secret = "revidit", "a secret of the provider"
	Quill, Reed    = "test-user@127.0.0.1", "test-user2"
	Password       = "verysecure"
)

// Provider is one that runs.
type Provider struct {
	Issuer string
	Key    *rsa.PrivateKey // by which it signs
	server *httptest.Server
	routes http.Handler

	mu    sync.Mutex
	alter func(claims map[string]any)
	sign  func(payload []byte) string
	asked map[string]int
}

// Start starts one that sends people back to an address.
func Start(t testing.TB, redirect string) *Provider {
	t.Helper()
	key, err := rsa.GenerateKey(rand.Reader, 2048)
	require.NoError(t, err)
	p := &Provider{Key: key, asked: map[string]int{}}
	p.server = httptest.NewServer(p)
	t.Cleanup(p.server.Close)
	p.Issuer = p.server.URL
	known := map[string]*storage.Client{Client: storage.WebClient(Client, Secret, redirect)}
	kept := &house{storage.NewStorageWithClients(storage.NewUserStore(p.Issuer), known), key}
	provider, err := op.NewProvider(&op.Config{CryptoKey: sha256.Sum256([]byte(rand.Text())), CodeMethodS256: true, AuthMethodPost: true}, kept,
		op.StaticIssuer(p.Issuer), op.WithAllowInsecure(), op.WithLogger(slog.New(slog.DiscardHandler)))
	require.NoError(t, err)
	routes := http.NewServeMux()
	routes.HandleFunc("GET /login/username", func(w http.ResponseWriter, r *http.Request) {
		_, _ = io.WriteString(w, `<!DOCTYPE html><html lang="en"><title>Museum</title><main><h1>Museum</h1><form method="post" action="/login/username">
			<input type="hidden" name="id" value="`+url.QueryEscape(r.FormValue("authRequestID"))+`">
			<label>Name <input name="username"></label><label>Password <input type="password" name="password"></label><button>Enter</button></form></main>`)
	})
	back := op.AuthCallbackURL(provider)
	routes.Handle("POST /login/username", op.NewIssuerInterceptor(provider.IssuerFromRequest).HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := kept.CheckUsernamePassword(r.FormValue("username"), r.FormValue("password"), r.FormValue("id")); err != nil {
			http.Error(w, err.Error(), http.StatusUnauthorized)
			return
		}
		http.Redirect(w, r, back(r.Context(), r.FormValue("id")), http.StatusFound)
	}))
	routes.Handle("/", provider)
	p.routes = routes
	return p
}

// Stop ends the provider: nobody answers there any more.
func (p *Provider) Stop() { p.server.Close() }

// Alter has the claims of each ID token altered from now on, which is signed again with the key of the provider, or by sign where that is
// not nil; both nil: it goes on as it is.
func (p *Provider) Alter(alter func(claims map[string]any), sign func(payload []byte) string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.alter, p.sign = alter, sign
}

// Asked is how often each path was asked for.
func (p *Provider) Asked() map[string]int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return maps.Clone(p.asked)
}

// ServeHTTP answers as the provider does, and alters what it is told to.
func (p *Provider) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	p.mu.Lock()
	p.asked[r.URL.Path]++
	alter, sign := p.alter, p.sign
	p.mu.Unlock()
	if r.URL.Path != "/oauth/token" || alter == nil && sign == nil {
		p.routes.ServeHTTP(w, r)
		return
	}
	recorded := httptest.NewRecorder()
	p.routes.ServeHTTP(recorded, r)
	body := recorded.Body.Bytes()
	if recorded.Code == http.StatusOK {
		body = p.altered(body, alter, sign)
	}
	maps.Copy(w.Header(), recorded.Header())
	w.Header().Set("Content-Length", strconv.Itoa(len(body)))
	w.WriteHeader(recorded.Code)
	_, _ = w.Write(body)
}

// altered is the answer of a token endpoint with another ID token. What cannot be read fails the test by being no answer.
func (p *Provider) altered(body []byte, alter func(map[string]any), sign func([]byte) string) []byte {
	var answer map[string]any
	if json.Unmarshal(body, &answer) != nil {
		return nil
	}
	parts := strings.Split(answer["id_token"].(string), ".")
	payload, err := base64.RawURLEncoding.DecodeString(parts[1])
	if err != nil {
		return nil
	}
	if alter != nil {
		decoder, claims := json.NewDecoder(bytes.NewReader(payload)), map[string]any{}
		decoder.UseNumber()
		if decoder.Decode(&claims) != nil {
			return nil
		}
		alter(claims)
		if payload, err = json.Marshal(claims); err != nil {
			return nil
		}
	}
	if sign == nil {
		sign = func(payload []byte) string { return Signed(jose.RS256, p.Key, payload) }
	}
	answer["id_token"] = sign(payload)
	body, err = json.Marshal(answer)
	if err != nil {
		return nil
	}
	return body
}

// Signed is a token of a payload, by an algorithm and a key, that names the key of the provider; empty where they do not go together.
func Signed(algorithm jose.SignatureAlgorithm, key any, payload []byte) string {
	signer, err := jose.NewSigner(jose.SigningKey{Algorithm: algorithm, Key: jose.JSONWebKey{Key: key, KeyID: keyID}}, nil)
	if err != nil {
		return ""
	}
	signed, err := signer.Sign(payload)
	if err != nil {
		return ""
	}
	text, err := signed.CompactSerialize()
	if err != nil {
		return ""
	}
	return text
}

// Visit is what a browser does at the provider that was sent to an address: somebody logs in there, and is sent back to the address that
// comes out, with a code.
func (p *Provider) Visit(t testing.TB, address, who string) *url.URL {
	t.Helper()
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	browser := &http.Client{Jar: jar, CheckRedirect: func(r *http.Request, _ []*http.Request) error {
		if !strings.HasPrefix(r.URL.String(), p.Issuer) { // the way back
			return http.ErrUseLastResponse
		}
		return nil
	}}
	form, err := browser.Get(address)
	require.NoError(t, err)
	require.NoError(t, form.Body.Close())
	id := form.Request.URL.Query().Get("authRequestID")
	require.NotEmpty(t, id, "%s %s", form.Status, form.Request.URL)
	answer, err := browser.PostForm(p.Issuer+"/login/username", url.Values{"id": {id}, "username": {who}, "password": {Password}})
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	back, err := answer.Location()
	require.NoError(t, err, answer.Status)
	return back
}

// house is the storage of the example with a key that tests know.
type house struct {
	*storage.Storage
	key *rsa.PrivateKey
}

const keyID = "a key of the provider"

func (h *house) SigningKey(context.Context) (op.SigningKey, error) { return signingKey{h.key}, nil }
func (h *house) KeySet(context.Context) ([]op.Key, error)          { return []op.Key{publicKey{h.key}}, nil }

type signingKey struct{ key *rsa.PrivateKey }

func (signingKey) SignatureAlgorithm() jose.SignatureAlgorithm { return jose.RS256 }
func (k signingKey) Key() any                                  { return k.key }
func (signingKey) ID() string                                  { return keyID }

type publicKey struct{ key *rsa.PrivateKey }

func (publicKey) ID() string                         { return keyID }
func (publicKey) Algorithm() jose.SignatureAlgorithm { return jose.RS256 }
func (publicKey) Use() string                        { return "sig" }
func (k publicKey) Key() any                         { return &k.key.PublicKey }

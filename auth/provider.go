package auth

import (
	"context"
	"crypto/subtle"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/coreos/go-oidc/v3/oidc"
	"golang.org/x/oauth2"
)

// ProviderConfig names the one OpenID provider of a club: a museum's own login.
type ProviderConfig struct {
	// Issuer is the provider, as it calls itself; ClientID and Secret are what it knows this service by.
	Issuer, ClientID, Secret string
	// Redirect is the page to which it sends people back, which it has to know too.
	Redirect string
	// SecondACR are values of the claim acr by which it says that a second factor was used, beside the value mfa of amr.
	SecondACR []string
	// Now is the clock; nil is time.Now.
	Now func() time.Time
}

// Provider asks an OpenID provider who somebody is: OpenID Connect Core 1.0 section 3.1, the code flow, with PKCE (RFC 7636). What it
// says of itself and its keys are fetched when they are needed first, and kept. It is safe for concurrent use.
type Provider struct {
	config ProviderConfig
	client *http.Client

	mu     sync.Mutex
	known  *discovered
	failed time.Time // when it was asked last in vain
	fault  error
}

// discovered is what a provider has said of itself (OpenID Connect Discovery 1.0).
type discovered struct {
	at       time.Time
	oauth    oauth2.Config
	verifier *oidc.IDTokenVerifier
	// namesItself: answers name their issuer (RFC 9207).
	namesItself bool
}

const (
	// providerTime is how long one question to a provider may take, and maxProviderBytes how large its answer may be (our own choice).
	providerTime     = 10 * time.Second
	maxProviderBytes = 1 << 20
	// discoveryLife is how long it counts what a provider has said of itself, and restAfterFault how long it is not asked after it did not
	// answer, so that people who try do not all wait.
	discoveryLife  = 24 * time.Hour
	restAfterFault = 5 * time.Second
	// maxIDToken bounds an ID token, in bytes, and maxSubject a subject, in letters (OpenID Connect Core section 2: 255).
	maxIDToken = 32 << 10
	maxSubject = 255
)

// idTokenAlgorithms are those by which an ID token may be signed, all with a public key of the provider: none, and those with a shared
// secret (HS256 and its like), are not among them (RFC 8725 sections 3.1 and 3.2).
var idTokenAlgorithms = []string{oidc.RS256, oidc.RS384, oidc.RS512, oidc.PS256, oidc.PS384, oidc.PS512, oidc.ES256, oidc.ES384, oidc.ES512, oidc.EdDSA}

// NewProvider returns a provider, without asking it anything yet.
func NewProvider(c ProviderConfig) (*Provider, error) {
	if c.ClientID == "" || c.Secret == "" {
		return nil, errors.New("auth: a provider needs a client and its secret")
	}
	for what, address := range map[string]string{"issuer": c.Issuer, "address to come back to": c.Redirect} {
		if err := checkEndpoint(address); err != nil {
			return nil, fmt.Errorf("auth: %s: %w", what, err)
		}
	}
	if c.Now == nil {
		c.Now = time.Now
	}
	// An answer that leads elsewhere is none: what a provider is was set by who keeps the server.
	client := &http.Client{Timeout: providerTime, Transport: bounded{http.DefaultTransport},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	return &Provider{config: c, client: client}, nil
}

// checkEndpoint asks for TLS, but on the machine itself.
func checkEndpoint(address string) error {
	at, err := url.Parse(address)
	if err != nil || at.Host == "" || at.User != nil || at.Fragment != "" {
		return fmt.Errorf("%q is no address; it should look like https://login.museum.example", address)
	}
	ip := net.ParseIP(at.Hostname())
	here := at.Hostname() == "localhost" || ip != nil && ip.IsLoopback()
	if at.Scheme != "https" && !(at.Scheme == "http" && here) {
		return fmt.Errorf("%q must begin with https://", address)
	}
	return nil
}

// bounded bounds what is read of an answer.
type bounded struct{ http.RoundTripper }

func (b bounded) RoundTrip(r *http.Request) (*http.Response, error) {
	answer, err := b.RoundTripper.RoundTrip(r)
	if err == nil {
		answer.Body = struct {
			io.Reader
			io.Closer
		}{&io.LimitedReader{R: answer.Body, N: maxProviderBytes}, answer.Body}
	}
	return answer, err
}

// Host is where the provider is, to be shown.
func (p *Provider) Host() string {
	at, err := url.Parse(p.config.Issuer)
	if err != nil {
		return p.config.Issuer
	}
	return at.Host
}

// errProviderDown wraps why a provider could not be asked, and errProviderAnswer what was wrong with what it said.
var (
	errProviderDown   = errors.New("auth: the OpenID provider does not answer")
	errProviderAnswer = errors.New("auth: what came from the OpenID provider does not hold")
)

func badAnswer(format string, args ...any) error {
	return fmt.Errorf("%w: %w", errProviderAnswer, fmt.Errorf(format, args...))
}

// discover is what the provider says of itself. What it said before goes on to count where it does not answer now.
func (p *Provider) discover(ctx context.Context) (*discovered, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := p.config.Now()
	switch {
	case p.known != nil && now.Sub(p.known.at) < discoveryLife:
		return p.known, nil
	case !p.failed.IsZero() && now.Sub(p.failed) < restAfterFault:
		if p.known != nil {
			return p.known, nil
		}
		return nil, p.fault
	}
	found, err := p.ask(ctx)
	if err != nil {
		p.failed, p.fault = now, err
		if p.known != nil {
			return p.known, nil
		}
		return nil, err
	}
	found.at = now
	p.known, p.failed = found, time.Time{}
	return found, nil
}

func (p *Provider) ask(ctx context.Context) (*discovered, error) {
	// Who asks first may leave; others want the answer too.
	provider, err := oidc.NewProvider(oidc.ClientContext(context.WithoutCancel(ctx), p.client), p.config.Issuer)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", errProviderDown, err)
	}
	var says struct {
		Keys       string   `json:"jwks_uri"`
		Names      bool     `json:"authorization_response_iss_parameter_supported"`
		Algorithms []string `json:"id_token_signing_alg_values_supported"`
	}
	if err := provider.Claims(&says); err != nil {
		return nil, fmt.Errorf("%w: %w", errProviderDown, err)
	}
	algorithms := slices.DeleteFunc(slices.Clone(idTokenAlgorithms), func(a string) bool {
		return len(says.Algorithms) > 0 && !slices.Contains(says.Algorithms, a)
	})
	if len(algorithms) == 0 {
		return nil, fmt.Errorf("%w: it signs by none of %v", errProviderDown, idTokenAlgorithms)
	}
	endpoint := provider.Endpoint()
	for _, address := range []string{endpoint.AuthURL, endpoint.TokenURL, says.Keys} {
		if err := checkEndpoint(address); err != nil {
			return nil, fmt.Errorf("%w: it names an endpoint that is not safe: %w", errProviderDown, err)
		}
	}
	return &discovered{namesItself: says.Names,
		oauth: oauth2.Config{ClientID: p.config.ClientID, ClientSecret: p.config.Secret, Endpoint: endpoint, RedirectURL: p.config.Redirect, Scopes: []string{oidc.ScopeOpenID}},
		verifier: provider.VerifierContext(oidc.ClientContext(context.Background(), p.client),
			&oidc.Config{ClientID: p.config.ClientID, SupportedSigningAlgs: algorithms, Now: p.config.Now})}, nil
}

// ceremony is one way to a provider and back, of one browser.
type ceremony struct {
	State    string `json:"state"`
	Nonce    string `json:"nonce"`
	Verifier string `json:"verifier"` // PKCE
	// Fresh asks the provider to look at its person again, whoever it has logged in already.
	Fresh bool `json:"fresh,omitempty"`
}

// address is where somebody is sent to.
func (p *Provider) address(ctx context.Context, c ceremony) (string, error) {
	d, err := p.discover(ctx)
	if err != nil {
		return "", err
	}
	options := []oauth2.AuthCodeOption{oidc.Nonce(c.Nonce), oauth2.S256ChallengeOption(c.Verifier)}
	if c.Fresh {
		options = append(options, oauth2.SetAuthURLParam("max_age", "0"), oauth2.SetAuthURLParam("prompt", "login"))
	}
	return d.oauth.AuthCodeURL(c.State, options...), nil
}

// ProviderAnswer is what a browser brings back from a provider.
type ProviderAnswer struct {
	Code, State string
	Issuer      string // RFC 9207; empty where the provider names none
	Error       string // a code of RFC 6749 section 4.1.2.1; empty: none
}

// identity is somebody as a provider knows them.
type identity struct {
	Issuer, Subject string
	Second          bool       // a second factor was used there
	At              *time.Time // when they have logged in there; nil: it does not say
}

// redeem asks the provider who has come back with an answer.
func (p *Provider) redeem(ctx context.Context, c ceremony, answer ProviderAnswer) (identity, error) {
	d, err := p.discover(ctx)
	if err != nil {
		return identity{}, err
	}
	// RFC 9207 section 2.4: an answer of another provider is not taken to this one.
	if answer.Issuer != p.config.Issuer && (answer.Issuer != "" || d.namesItself) {
		return identity{}, badAnswer("it is of another issuer")
	}
	ctx, cancel := context.WithTimeout(ctx, 2*providerTime)
	defer cancel()
	token, err := d.oauth.Exchange(oidc.ClientContext(ctx, p.client), answer.Code, oauth2.VerifierOption(c.Verifier))
	if refused := (*oauth2.RetrieveError)(nil); errors.As(err, &refused) && refused.Response != nil && refused.Response.StatusCode < 500 {
		return identity{}, badAnswer("the code was refused: %s", refused.ErrorCode)
	}
	if err != nil {
		return identity{}, fmt.Errorf("%w: %w", errProviderDown, err)
	}
	raw, _ := token.Extra("id_token").(string)
	if raw == "" || len(raw) > maxIDToken {
		return identity{}, badAnswer("there is no ID token, or one of %d bytes", len(raw))
	}
	return p.verify(ctx, d, c, raw, token.AccessToken)
}

// verify looks at an ID token as OpenID Connect Core section 3.1.3.7 asks: issuer, audience, time, signature by the library; then the
// nonce, the authorized party, the hash of the access token and the time of the login.
func (p *Provider) verify(ctx context.Context, d *discovered, c ceremony, raw, access string) (identity, error) {
	token, err := d.verifier.Verify(ctx, raw)
	if err != nil {
		return identity{}, badAnswer("ID token: %w", err)
	}
	var says struct {
		Party    string   `json:"azp"`
		Methods  []string `json:"amr"`
		Class    string   `json:"acr"`
		AuthTime *int64   `json:"auth_time"`
	}
	if err := token.Claims(&says); err != nil {
		return identity{}, badAnswer("ID token: %w", err)
	}
	now := p.config.Now()
	switch {
	case subtle.ConstantTimeCompare([]byte(token.Nonce), []byte(c.Nonce)) != 1:
		return identity{}, badAnswer("ID token: it is of another nonce")
	case says.Party != "" && says.Party != p.config.ClientID, len(token.Audience) > 1 && says.Party == "":
		return identity{}, badAnswer("ID token: it was given to another party")
	case token.IssuedAt.After(now.Add(skew)):
		return identity{}, badAnswer("ID token: it is of a time to come")
	case token.Subject == "" || len(token.Subject) > maxSubject || strings.ContainsFunc(token.Subject, func(r rune) bool { return r < ' ' || r > '~' }):
		return identity{}, badAnswer("ID token: its subject is no text of 1 to %d ASCII letters", maxSubject)
	}
	if token.AccessTokenHash != "" {
		if err := token.VerifyAccessToken(access); err != nil {
			return identity{}, badAnswer("ID token: %w", err)
		}
	}
	who := identity{Issuer: token.Issuer, Subject: token.Subject, Second: slices.Contains(says.Methods, "mfa") || slices.Contains(p.config.SecondACR, says.Class)}
	if says.AuthTime != nil {
		who.At = new(time.Unix(*says.AuthTime, 0).UTC())
	}
	if c.Fresh && (who.At == nil || now.Sub(*who.At) > freshLife || who.At.After(now.Add(skew))) {
		return identity{}, badAnswer("ID token: its person was not looked at again")
	}
	return who, nil
}

package auth

import (
	"context"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"net"
	"net/url"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/go-webauthn/webauthn/protocol"
	"github.com/go-webauthn/webauthn/webauthn"

	"revidit/review"
)

// Passkey is a credential of WebAuthn that a person has registered. What the server has of it is public.
type Passkey struct {
	ID     string // of the credential, base64url
	Person string
	Name   string // that the person has given it
	// Record is the credential as the library keeps it.
	Record webauthn.Credential
	MadeAt time.Time
	UsedAt *time.Time
}

// maxPasskeys is how many a person may have.
const maxPasskeys = 20

// newPasskeys makes what runs the ceremonies of WebAuthn for pages at an address; nil where none is known, or it has no name, since a
// passkey is bound to a name of a host (W3C Web Authentication section 5.1.3).
func newPasskeys(publicURL string) (*webauthn.WebAuthn, error) {
	if publicURL == "" {
		return nil, nil
	}
	at, err := url.Parse(publicURL)
	if err != nil {
		return nil, fmt.Errorf("auth: address of the pages: %w", err)
	}
	// Browsers have them where a page came over TLS, or from the machine itself.
	if net.ParseIP(at.Hostname()) != nil || at.Scheme != "https" && at.Hostname() != "localhost" {
		return nil, nil
	}
	passkeys, err := webauthn.New(&webauthn.Config{RPID: at.Hostname(), RPDisplayName: "Revidit", RPOrigins: []string{at.Scheme + "://" + at.Host},
		AttestationPreference: protocol.PreferNoAttestation})
	if err != nil {
		return nil, fmt.Errorf("auth: passkeys for %s: %w", publicURL, err)
	}
	return passkeys, nil
}

// PasskeyOrigin is where passkeys work, such as https://beetles.example; empty where they do not.
func (a *Accounts) PasskeyOrigin() string {
	if a.passkeys == nil {
		return ""
	}
	return a.passkeys.Config.RPOrigins[0]
}

func (a *Accounts) havePasskeys() error {
	if a.passkeys == nil {
		return review.Errorf(review.KindConflict, "Passkeys are not set up here: the server has not been told its address. Nothing was changed; use another way.")
	}
	return nil
}

// holder is a person as the library asks for one.
type holder struct {
	account  Account
	passkeys []Passkey
}

func (h holder) WebAuthnID() []byte          { return []byte(h.account.Person) }
func (h holder) WebAuthnName() string        { return h.account.Login }
func (h holder) WebAuthnDisplayName() string { return h.account.Name }
func (h holder) WebAuthnCredentials() []webauthn.Credential {
	records := make([]webauthn.Credential, len(h.passkeys))
	for i, p := range h.passkeys {
		records[i] = p.Record
	}
	return records
}

func (a *Accounts) holderOf(ctx context.Context, account Account) (holder, error) {
	factors, err := a.store.Factors(ctx, account.Person)
	return holder{account, factors.Passkeys}, err
}

// BeginPasskey begins to register a passkey of who is logged in by a token and knows the password. options go to the browser.
func (a *Accounts) BeginPasskey(ctx context.Context, token, present, clientIP string) (options any, secret string, err error) {
	if err := a.havePasskeys(); err != nil {
		return nil, "", err
	}
	account, err := a.proven(ctx, token, present, clientIP)
	if err != nil {
		return nil, "", err
	}
	h, err := a.holderOf(ctx, account)
	if err != nil {
		return nil, "", err
	}
	if len(h.passkeys) >= maxPasskeys {
		return nil, "", review.Errorf(review.KindConflict, "You have %d passkeys, and that is the most. Nothing was changed; remove one first.", len(h.passkeys))
	}
	creation, session, err := a.passkeys.BeginRegistration(h, webauthn.WithExclusions(webauthn.Credentials(h.WebAuthnCredentials()).CredentialDescriptors()),
		webauthn.WithAuthenticatorSelection(protocol.AuthenticatorSelection{ResidentKey: protocol.ResidentKeyRequirementRequired,
			RequireResidentKey: new(true), UserVerification: protocol.VerificationRequired}))
	if err != nil {
		return nil, "", fmt.Errorf("auth: begin to register a passkey: %w", err)
	}
	data, err := json.Marshal(session)
	if err != nil {
		return nil, "", fmt.Errorf("auth: %w", err)
	}
	secret, err = a.newStep(ctx, LoginStep{Kind: StepRegister, Person: account.Person, Version: account.Version, Data: string(data)})
	return creation, secret, err
}

// EndPasskey registers the passkey that the browser has made. It returns recovery codes to be written down, where the account had none.
func (a *Accounts) EndPasskey(ctx context.Context, token, secret, name string, answer []byte) (recovery []string, err error) {
	account, _, err := a.verify(ctx, token, ownToken)
	if err != nil {
		return nil, err
	}
	s, session, err := a.takeCeremony(ctx, StepRegister, secret)
	if err != nil {
		return nil, err
	}
	if s.Person != account.Person {
		return nil, badPasskey()
	}
	if name = strings.TrimSpace(name); name == "" {
		name = "Passkey"
	}
	if letters := []rune(strings.ToValidUTF8(name, "?")); len(letters) > maxLogin {
		name = string(letters[:maxLogin])
	}
	h, err := a.holderOf(ctx, account)
	if err != nil {
		return nil, err
	}
	parsed, err := protocol.ParseCredentialCreationResponseBytes(answer)
	if err != nil {
		return nil, badPasskey()
	}
	record, err := a.passkeys.CreateCredential(h, session, parsed)
	if err != nil {
		return nil, badPasskey()
	}
	recovery, digests := newRecovery()
	made := Passkey{ID: credentialID(record.ID), Person: account.Person, Name: name, Record: *record, MadeAt: a.moment()}
	given, err := a.store.AddPasskey(ctx, a.ownFactor(account, review.LetterFactorAdded), made, digests)
	if !given {
		recovery = nil
	}
	return recovery, err
}

func credentialID(id []byte) string { return base64.RawURLEncoding.EncodeToString(id) }

func badPasskey() error {
	return review.Errorf(review.KindInvalid, "The passkey was not taken: what came is not what was asked for, or took too long. Nothing was changed; try again.")
}

// takeCeremony is a ceremony of a passkey, which ends with that whether it succeeds or not.
func (a *Accounts) takeCeremony(ctx context.Context, kind StepKind, secret string) (s LoginStep, session webauthn.SessionData, err error) {
	if err = a.havePasskeys(); err != nil {
		return s, session, err
	}
	if s, err = a.store.TakeStep(ctx, kind, review.SecretDigest(secret), a.moment()); err != nil {
		return s, session, stepGone(err)
	}
	session, err = ceremonyOf(s)
	return s, session, err
}

func ceremonyOf(s LoginStep) (session webauthn.SessionData, err error) {
	if s.Data == "" {
		return session, badPasskey()
	}
	if err := json.Unmarshal([]byte(s.Data), &session); err != nil {
		return session, fmt.Errorf("auth: stored ceremony: %w", err)
	}
	return session, nil
}

// BeginPasskeyLogin begins a login with a passkey alone. options go to the browser.
func (a *Accounts) BeginPasskeyLogin(ctx context.Context, clientIP string) (options any, secret string, err error) {
	if err := a.havePasskeys(); err != nil {
		return nil, "", err
	}
	if err := a.count(ctx, a.limits.PerAddress, "passkey from", AddressKey(clientIP)); err != nil {
		return nil, "", err
	}
	assertion, session, err := a.passkeys.BeginDiscoverableLogin(webauthn.WithUserVerification(protocol.VerificationRequired))
	if err != nil {
		return nil, "", fmt.Errorf("auth: begin a login with a passkey: %w", err)
	}
	data, err := json.Marshal(session)
	if err != nil {
		return nil, "", fmt.Errorf("auth: %w", err)
	}
	secret, err = a.newStep(ctx, LoginStep{Kind: StepPasskey, Data: string(data)})
	return assertion, secret, err
}

// EndPasskeyLogin logs in whose passkey has answered, and who was verified by it: having it and being verified are two factors.
func (a *Accounts) EndPasskeyLogin(ctx context.Context, secret string, answer []byte, from Client) (Entry, error) {
	_, session, err := a.takeCeremony(ctx, StepPasskey, secret)
	if err != nil {
		return Entry{}, err
	}
	parsed, err := protocol.ParseCredentialRequestResponseBytes(answer)
	if err != nil {
		return Entry{}, badPasskey()
	}
	var account Account
	record, err := a.passkeys.ValidateDiscoverableLogin(func(_, handle []byte) (webauthn.User, error) {
		if !utf8.Valid(handle) {
			return nil, badPasskey()
		}
		found, err := a.store.AccountByPerson(ctx, string(handle))
		if err != nil {
			return nil, err
		}
		account = found
		return a.holderOf(ctx, found)
	}, session, parsed)
	if err != nil || account.Disabled {
		a.tell(account.Login, from.Address, WrongPasskey)
		return Entry{}, wrongPasskey()
	}
	if err := a.usePasskey(ctx, record); err != nil {
		return Entry{}, err
	}
	return a.endLogin(ctx, account, from)
}

func wrongPasskey() error {
	return review.Errorf(review.KindUnknownActor, "This passkey is not known here, or its account has been disabled. Log in otherwise, or ask a curator.")
}

// usePasskey notes the use of a passkey. One whose counter has not grown may be a copy, and lets nobody in (W3C Web Authentication
// section 6.1.1).
func (a *Accounts) usePasskey(ctx context.Context, record *webauthn.Credential) error {
	if record.Authenticator.CloneWarning {
		return wrongPasskey()
	}
	p, err := a.store.Passkey(ctx, credentialID(record.ID))
	if err != nil {
		return err
	}
	p.Record, p.UsedAt = *record, new(a.moment())
	return a.store.UsePasskey(ctx, p)
}

// BeginPasskeySecond begins to give a passkey as the second factor. options go to the browser.
func (a *Accounts) BeginPasskeySecond(ctx context.Context, secret string) (options any, err error) {
	if err := a.havePasskeys(); err != nil {
		return nil, err
	}
	s, h, err := a.secondHolder(ctx, secret)
	if err != nil {
		return nil, err
	}
	if len(h.passkeys) == 0 {
		return nil, badPasskey()
	}
	assertion, session, err := a.passkeys.BeginLogin(h, webauthn.WithUserVerification(protocol.VerificationPreferred))
	if err != nil {
		return nil, fmt.Errorf("auth: ask for a passkey: %w", err)
	}
	data, err := json.Marshal(session)
	if err != nil {
		return nil, fmt.Errorf("auth: %w", err)
	}
	s.Data = string(data)
	return assertion, a.store.StoreStep(ctx, s)
}

func (a *Accounts) secondHolder(ctx context.Context, secret string) (s LoginStep, h holder, err error) {
	if s, err = a.second(ctx, secret); err != nil {
		return s, h, err
	}
	account, err := a.store.AccountByPerson(ctx, s.Person)
	if err != nil {
		return s, h, stepGone(err)
	}
	h, err = a.holderOf(ctx, account)
	return s, h, err
}

// EndPasskeySecond ends a login with a passkey as the second factor.
func (a *Accounts) EndPasskeySecond(ctx context.Context, secret string, answer []byte, from Client) (Entry, error) {
	if err := a.havePasskeys(); err != nil {
		return Entry{}, err
	}
	s, h, err := a.secondHolder(ctx, secret)
	if err != nil {
		return Entry{}, err
	}
	session, err := ceremonyOf(s)
	if err != nil {
		return Entry{}, err
	}
	s.Data = "" // one answer to one challenge
	if err := a.store.StoreStep(ctx, s); err != nil {
		return Entry{}, err
	}
	parsed, err := protocol.ParseCredentialRequestResponseBytes(answer)
	if err != nil {
		return Entry{}, badPasskey()
	}
	record, err := a.passkeys.ValidateLogin(h, session, parsed)
	if err != nil {
		a.tell(h.account.Login, from.Address, WrongPasskey)
		return Entry{}, badPasskey()
	}
	if err := a.usePasskey(ctx, record); err != nil {
		return Entry{}, err
	}
	return a.endSecond(ctx, secret, h.account, from)
}

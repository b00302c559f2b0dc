package auth

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"golang.org/x/oauth2"

	"revidit/review"
)

// ProviderLogin links an account with somebody whom an OpenID provider knows. Subject is personal data: it stands outside the events.
type ProviderLogin struct {
	Issuer, Subject string
	Person          string
	MadeAt          time.Time
	UsedAt          *time.Time
}

// ProviderStore keeps what accounts are linked with. Each change is an event of the account, by its person.
type ProviderStore interface {
	// AccountByProvider is the account that somebody is linked with, and notes that it is used.
	AccountByProvider(ctx context.Context, issuer, subject string, at time.Time) (Account, error)
	// ProviderLogin is the link of a person with an issuer.
	ProviderLogin(ctx context.Context, issuer, person string) (ProviderLogin, error)
	// LinkProvider stores a link. Where the account, or the other side, is linked already it is a review.KindConflict error.
	// The letter tells the person.
	LinkProvider(ctx context.Context, by review.Actor, l ProviderLogin, letter review.Letter) error
	// UnlinkProvider removes it. Where neither a password nor a passkey is left by which the person gets in it is a
	// review.KindConflict error.
	UnlinkProvider(ctx context.Context, u ProviderUnlink) error
	// ProviderLogins are all links of a person, the oldest first.
	ProviderLogins(ctx context.Context, person string) ([]ProviderLogin, error)
}

// ProviderUnlink says which link of an account is removed, by whom.
type ProviderUnlink struct {
	By     review.Actor
	Person string
	Issuer string // empty: whichever there are
	// Reason is of who takes the login off the account of somebody else: then logins that have begun with it end, and the person is told
	// by news, too.
	Reason string
	Letter review.Letter
}

// Ways by which a login was begun.
const (
	// ByProvider: the OpenID provider said who it is; BySecondProvider: and that a second factor was used there.
	ByProvider       = "provider"
	BySecondProvider = "provider-second"
)

// freshLife is how long a login by the provider counts in place of a password, where an account has none.
const freshLife = 10 * time.Minute

// What somebody goes to the provider for.
const (
	ForLogin = "login"
	ForLink  = "link" // of the account that is logged in
	ForJoin  = "join" // with an invitation
	ForProof = "proof"
)

// providerStep is what is stored of who is on the way to the provider.
type providerStep struct {
	ceremony
	For string `json:"for"`
	// Next is where somebody wanted to go. Invitation, Name and Login are of ForJoin.
	Next       string `json:"next,omitempty"`
	Invitation string `json:"invitation,omitempty"` // digest
	Name       string `json:"name,omitempty"`
	Login      string `json:"login,omitempty"`
}

// ProviderHost is where the provider of this club is; empty: there is none.
func (a *Accounts) ProviderHost() string {
	if a.provider == nil {
		return ""
	}
	return a.provider.Host()
}

func (a *Accounts) haveProvider() error {
	if a.provider == nil {
		return review.Errorf(review.KindConflict, "No museum's login is set up here. Nothing was changed; use another way.")
	}
	return nil
}

// Ways are those by which somebody gets in, beside second factors.
type Ways struct {
	Password bool
	Provider string         // host of the provider; empty: there is none
	Linked   *ProviderLogin // with it; nil: not linked
	// Fresh: without a password, the provider has looked at the person a short while ago.
	Fresh bool
}

// OwnWays are those of who is logged in by a token.
func (a *Accounts) OwnWays(ctx context.Context, token string) (Ways, error) {
	account, s, err := a.verify(ctx, token, ownToken)
	if err != nil {
		return Ways{}, err
	}
	w := Ways{Password: account.PasswordHash != "", Provider: a.ProviderHost(), Fresh: a.fresh(s)}
	if a.provider == nil {
		return w, nil
	}
	l, err := a.store.ProviderLogin(ctx, a.provider.config.Issuer, account.Person)
	if review.KindOf(err) == review.KindNotFound {
		return w, nil
	}
	w.Linked = &l
	return w, err
}

// fresh says whether the provider has looked at the person of a session a short while ago.
func (a *Accounts) fresh(s Session) bool {
	return s.ProvenAt != nil && a.now().Sub(*s.ProvenAt) <= freshLife
}

// BeginProviderLogin begins a login by the provider. address is where the browser goes, which keeps the secret meanwhile.
func (a *Accounts) BeginProviderLogin(ctx context.Context, next, clientIP string) (address, secret string, err error) {
	if err := a.count(ctx, a.limits.PerAddress, "provider from", AddressKey(clientIP)); err != nil {
		return "", "", err
	}
	return a.toProvider(ctx, LoginStep{}, providerStep{For: ForLogin, Next: next})
}

// BeginProviderProof begins to have the provider look again at who is logged in by a token, in place of a password.
func (a *Accounts) BeginProviderProof(ctx context.Context, token, clientIP string) (address, secret string, err error) {
	account, _, err := a.verify(ctx, token, loginType)
	if err != nil {
		return "", "", err
	}
	if err := a.count(ctx, a.limits.PerAddress, "provider from", AddressKey(clientIP)); err != nil {
		return "", "", err
	}
	return a.toProvider(ctx, LoginStep{Person: account.Person, Version: account.Version}, providerStep{For: ForProof, Next: "/account", ceremony: ceremony{Fresh: true}})
}

// BeginProviderLink begins to link the account of who is logged in by a token, and knows the password.
func (a *Accounts) BeginProviderLink(ctx context.Context, token, present, clientIP string) (address, secret string, err error) {
	if err := a.haveProvider(); err != nil {
		return "", "", err
	}
	account, err := a.proven(ctx, token, present, clientIP)
	if err != nil {
		return "", "", err
	}
	return a.toProvider(ctx, LoginStep{Person: account.Person, Version: account.Version}, providerStep{For: ForLink})
}

// BeginProviderJoin begins to make an account of an invitation that has the provider's login in place of a password.
func (a *Accounts) BeginProviderJoin(ctx context.Context, token string, form JoinForm, clientIP string) (address, secret string, err error) {
	if err := a.haveProvider(); err != nil {
		return "", "", err
	}
	l, err := a.Link(ctx, review.LinkInvites, token, clientIP)
	if err != nil {
		return "", "", err
	}
	account, err := a.prepareFor(form.Login, form.Name, l.Role)
	if err != nil {
		return "", "", err
	}
	return a.toProvider(ctx, LoginStep{}, providerStep{For: ForJoin, Invitation: l.Digest, Name: account.Name, Login: account.Login})
}

// toProvider stores that somebody is on the way.
func (a *Accounts) toProvider(ctx context.Context, s LoginStep, step providerStep) (address, secret string, err error) {
	if err := a.haveProvider(); err != nil {
		return "", "", err
	}
	step.State, step.Nonce, step.Verifier = rand.Text(), rand.Text(), oauth2.GenerateVerifier()
	if address, err = a.provider.address(ctx, step.ceremony); err != nil {
		return "", "", a.providerFault(ctx, err, "", "")
	}
	data, err := json.Marshal(step)
	if err != nil {
		return "", "", fmt.Errorf("auth: %w", err)
	}
	s.Kind, s.Data = StepProvider, string(data)
	secret, err = a.newStep(ctx, s)
	return address, secret, err
}

// ProviderEntry is how far somebody has come who comes back from the provider.
type ProviderEntry struct {
	Entry
	For  string // what it was for, as far as that is known
	Next string
}

// EndProvider ends what was begun by who holds the secret of a step. token is the login of the browser, which a link needs.
func (a *Accounts) EndProvider(ctx context.Context, secret, token string, answer ProviderAnswer, from Client) (ProviderEntry, error) {
	if err := a.haveProvider(); err != nil {
		return ProviderEntry{}, err
	}
	if err := a.count(ctx, a.limits.PerAddress, "back from provider", AddressKey(from.Address)); err != nil {
		return ProviderEntry{}, err
	}
	s, step, err := a.takeProvider(ctx, secret, answer.State)
	if err != nil {
		return ProviderEntry{}, err
	}
	entry := ProviderEntry{For: step.For, Next: step.Next}
	if answer.Error != "" || answer.Code == "" {
		a.tell("", from.Address, ProviderRefused)
		return entry, review.Errorf(review.KindUnknownActor, "Your museum's login has not let you in, or you stopped there. Nothing was changed; try again, or use another way.")
	}
	who, err := a.provider.redeem(ctx, step.ceremony, answer)
	if err != nil {
		return entry, a.providerFault(ctx, err, from.Address, ProviderRefused)
	}
	switch step.For {
	case ForLink:
		err = a.linkProvider(ctx, s, token, who)
	case ForJoin:
		entry.Entry, err = a.joinByProvider(ctx, step, who, from)
	default:
		entry.Entry, err = a.loginByProvider(ctx, s, who, from)
	}
	return entry, err
}

// takeProvider is what somebody was on the way for. The state binds the answer to it, and the secret to the browser (RFC 6749 section
// 10.12).
func (a *Accounts) takeProvider(ctx context.Context, secret, state string) (s LoginStep, step providerStep, err error) {
	if s, err = a.store.TakeStep(ctx, StepProvider, review.SecretDigest(secret), a.moment()); err != nil {
		return s, step, stepGone(err)
	}
	if err := json.Unmarshal([]byte(s.Data), &step); err != nil {
		return s, step, fmt.Errorf("auth: stored way to the provider: %w", err)
	}
	if subtle.ConstantTimeCompare([]byte(step.State), []byte(state)) != 1 {
		return s, step, stepGone(review.Errorf(review.KindNotFound, "There is no such login."))
	}
	return s, step, nil
}

// providerFault says what people are told where the provider does not answer, or says what does not hold; the log is told why.
func (a *Accounts) providerFault(ctx context.Context, err error, address string, refused Outcome) error {
	switch {
	case errors.Is(err, errProviderDown):
		a.log.LogAttrs(ctx, slog.LevelError, "the OpenID provider cannot be asked", slog.Any("error", err))
		return review.Errorf(review.KindDown, "Your museum's login does not answer. Nothing was changed; try again in a minute, or use another way.")
	case errors.Is(err, errProviderAnswer):
		a.log.LogAttrs(ctx, slog.LevelWarn, "an answer of the OpenID provider does not hold", slog.Any("error", err))
		if refused != "" {
			a.tell("", address, refused)
		}
		return review.Errorf(review.KindUnknownActor, "What came from your museum's login does not hold, so that nobody was let in. Nothing was changed; try again, or use another way.")
	}
	return err
}

// loginByProvider logs in who is linked. Our own second factor is asked for where the account has one and the provider does not say
// that one was used.
func (a *Accounts) loginByProvider(ctx context.Context, s LoginStep, who identity, from Client) (Entry, error) {
	account, err := a.store.AccountByProvider(ctx, who.Issuer, who.Subject, a.moment())
	if err != nil && review.KindOf(err) != review.KindNotFound {
		return Entry{}, err
	}
	if err != nil || account.Disabled || s.Person != "" && s.Person != account.Person {
		a.tell(account.Login, from.Address, NotLinked)
		return Entry{}, notLinked()
	}
	from = who.from(from)
	if account.SecondFactor && !who.Second {
		secret, err := a.newStep(ctx, LoginStep{Kind: StepSecond, Person: account.Person, Version: account.Version, Way: from.Way, ProvenAt: from.ProvenAt})
		return Entry{Actor: account.Actor(), Step: secret}, err
	}
	return a.endLogin(ctx, account, from)
}

// from is from where somebody logs in who has come by the provider.
func (i identity) from(c Client) Client {
	c.Way, c.ProvenAt = ByProvider, i.At
	if i.Second {
		c.Way = BySecondProvider
	}
	return c
}

// notLinked is the same whether there is an account or not, and whatever became of it.
func notLinked() error {
	return review.Errorf(review.KindUnknownActor, "Your museum knows you, but no account here that lets you in is linked with its login. Nothing was changed. "+
		"If you have an account, log in as usual and link it on the page My login; else ask a curator for an invitation.")
}

// linkProvider links the account that has asked for it, in the browser in which it is still logged in.
func (a *Accounts) linkProvider(ctx context.Context, s LoginStep, token string, who identity) error {
	account, _, err := a.verify(ctx, token, loginType)
	if err != nil {
		return err
	}
	if account.Person != s.Person || account.Version != s.Version {
		return stepGone(review.Errorf(review.KindNotFound, "There is no such login."))
	}
	return a.done(ctx, ProviderLinked, account.Login, a.store.LinkProvider(ctx, account.Actor(),
		ProviderLogin{Issuer: who.Issuer, Subject: who.Subject, Person: account.Person, MadeAt: a.moment()}, a.letterTo(account.Person, review.LetterProviderLinked)))
}

// joinByProvider makes the account of an invitation, linked and without a password.
func (a *Accounts) joinByProvider(ctx context.Context, step providerStep, who identity, from Client) (Entry, error) {
	l, err := a.store.LinkOf(ctx, review.LinkInvites, step.Invitation, a.moment())
	if err != nil {
		return Entry{}, usedUp(err)
	}
	account, err := a.prepareFor(step.Login, step.Name, l.Role)
	if err != nil {
		return Entry{}, err
	}
	account.Person = l.Person
	link := ProviderLogin{Issuer: who.Issuer, Subject: who.Subject, Person: l.Person, MadeAt: account.CreatedAt}
	if err := a.done(ctx, AccountMade, account.Login, a.store.AcceptInvitation(ctx, l, account, &link)); err != nil {
		return Entry{}, usedUp(err)
	}
	return a.endLogin(ctx, account, who.from(from))
}

// UnlinkProvider has the provider's login let nobody into the account of who is logged in by a token and knows the password.
func (a *Accounts) UnlinkProvider(ctx context.Context, token, present, clientIP string) error {
	if err := a.haveProvider(); err != nil {
		return err
	}
	account, err := a.proven(ctx, token, present, clientIP)
	if err != nil {
		return err
	}
	return a.done(ctx, ProviderUnlinked, account.Login, a.store.UnlinkProvider(ctx, ProviderUnlink{By: account.Actor(), Person: account.Person,
		Issuer: a.provider.config.Issuer, Letter: a.letterTo(account.Person, review.LetterProviderUnlinked)}))
}

// ProviderLoginsOf are the museums' logins of a person, to who keeps accounts: whether there is a provider now or not.
func (a *Accounts) ProviderLoginsOf(ctx context.Context, by review.Actor, person string) ([]ProviderLogin, error) {
	if err := mayKeep(by); err != nil {
		return nil, err
	}
	return a.store.ProviderLogins(ctx, person)
}

// TakeProviderOff takes a museum's login off the account of somebody else, by who keeps accounts, with a reason. The last way by which a
// person gets in stays: then a link for a password is handed over first.
func (a *Accounts) TakeProviderOff(ctx context.Context, by review.Actor, person, reason string) error {
	if err := mayChange(by, person); err != nil {
		return err
	}
	if err := checkReason(reason); err != nil {
		return err
	}
	account, err := a.store.AccountByPerson(ctx, person)
	if err != nil {
		return err
	}
	return a.done(ctx, ProviderUnlinked, account.Login, a.store.UnlinkProvider(ctx, ProviderUnlink{By: by, Person: person, Reason: reason,
		Letter: a.letterTo(person, review.LetterProviderTakenOff)}))
}

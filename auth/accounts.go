package auth

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"log/slog"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/go-webauthn/webauthn/webauthn"
	"github.com/golang-jwt/jwt/v5"
	"github.com/google/uuid"
	"golang.org/x/text/secure/precis"

	"revidit/review"
)

// Longest login and name, in letters.
const (
	maxLogin = 60
	maxName  = 120
)

// Accounts is the one way to log in and to change accounts. It is safe for concurrent use.
type Accounts struct {
	store    Store
	keys     *KeyRing
	now      func() time.Time
	newID    func() string
	hasher   *hasher
	limits   Limits
	watch    func(Attempt)
	changed  func(context.Context, Happening, string)
	log      *slog.Logger
	mails    bool
	idle     time.Duration
	passkeys *webauthn.WebAuthn // nil: there are none
	provider *Provider          // nil: there is none
}

// Options replace what a test wants to hold still; zero values are the real thing.
type Options struct {
	Now func() time.Time
	// NewID makes the ids of persons; nil makes random ones.
	NewID func() string
	// Hashers is how many passwords may be worked on at once, 19 MiB each; 0 means 4.
	Hashers int
	// Limits on attempts to log in; those that are zero are DefaultLimits.
	Limits Limits
	// Cheap makes passwords cost next to nothing, for tests about something else: they protect nothing then.
	Cheap bool
	// Mails: the club sends mail, so that links are sent.
	Mails bool
	// IdleLimit is how long a login lasts that is not used; 0 is DefaultIdleLimit.
	IdleLimit time.Duration
	// PublicURL is where browsers find the pages, such as https://beetles.example: passkeys are bound to it; empty: there are none.
	PublicURL string
	// Provider is the OpenID provider by which people may log in; nil: there is none.
	Provider *Provider
	// Log takes faults that stop nobody; nil is slog.Default.
	Log *slog.Logger
}

// NewAccounts returns accounts over a store. keys sign the tokens, and are the same in every process.
func NewAccounts(store Store, keys *KeyRing, o Options) (*Accounts, error) {
	if _, err := keys.signs(time.Now()); err != nil {
		return nil, err
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.NewID == nil {
		o.NewID = uuid.NewString
	}
	if o.Hashers == 0 {
		o.Hashers = 4
	}
	params := argonParams
	if o.Cheap {
		params = cheapParams
	}
	hasher, err := newHasher(o.Hashers, params)
	if err != nil {
		return nil, err
	}
	passkeys, err := newPasskeys(o.PublicURL)
	if err != nil {
		return nil, err
	}
	return &Accounts{passkeys: passkeys, provider: o.Provider, store: store, keys: keys, now: o.Now, newID: o.NewID, hasher: hasher, limits: o.Limits.orDefault(), mails: o.Mails,
		idle: cmp.Or(o.IdleLimit, DefaultIdleLimit), log: cmp.Or(o.Log, slog.Default())}, nil
}

// Create makes an account and its person. A login that is taken is a review.KindConflict error.
func (a *Accounts) Create(ctx context.Context, login, name string, role review.Role, password string) (Account, error) {
	account, err := a.prepare(ctx, login, name, role, password)
	if err != nil {
		return Account{}, err
	}
	account.Person = a.newID()
	if err := a.store.CreateAccount(ctx, account); err != nil {
		return Account{}, err
	}
	return account, nil
}

// prepare is a new account, of nobody yet, or what is wrong with it.
func (a *Accounts) prepare(ctx context.Context, login, name string, role review.Role, password string) (Account, error) {
	account, err := a.prepareFor(login, name, role)
	problems := review.Problems(fieldsOf(err))
	password, err = newPassword(password, account.Login)
	problems = append(problems, fieldsOf(err)...)
	if err := problems.Err(); err != nil {
		return Account{}, err
	}
	account.PasswordHash, err = a.hasher.hash(ctx, password)
	return account, err
}

// prepareFor is a new account without a password.
func (a *Accounts) prepareFor(login, name string, role review.Role) (Account, error) {
	var problems review.Problems
	login, ok := prepareLogin(login)
	if !ok {
		problems.Addf("login", "must be letters, digits and signs without spaces, at most %d", maxLogin)
	}
	name = strings.TrimSpace(name)
	checkName(&problems, name)
	if !role.ForPeople() {
		problems.Addf("role", "must be member, keeper, reviewer or curator")
	}
	return Account{Name: name, Login: login, Role: role, Version: 1, CreatedAt: a.moment()}, problems.Err()
}

// Hash is what an account with that login stores of a password: for accounts that come into a database by other means than Create.
func (a *Accounts) Hash(ctx context.Context, login, password string) (string, error) {
	password, err := newPassword(password, login)
	if err != nil {
		return "", err
	}
	return a.hasher.hash(ctx, password)
}

func fieldsOf(err error) []review.FieldProblem {
	var known *review.Error
	if errors.As(err, &known) {
		return known.Fields
	}
	return nil
}

// prepareLogin brings a login into the one form in which it is stored and compared: RFC 8265 UsernameCaseMapped, which
// is lower case.
func prepareLogin(login string) (string, bool) {
	prepared, err := precis.UsernameCaseMapped.String(strings.TrimSpace(login))
	if err != nil || utf8.RuneCountInString(prepared) > maxLogin {
		return "", false
	}
	return prepared, true
}

// newPassword is a password to be set, in the form in which it is hashed.
func newPassword(password, login string) (string, error) {
	prepared, err := preparePassword(password)
	if err != nil {
		return "", err
	}
	return prepared, checkPassword(prepared, login)
}

// Login is Enter for a program, of whose address attempts are counted. An account that asks for a second factor lets none in so.
func (a *Accounts) Login(ctx context.Context, login, password, clientIP string) (token string, actor review.Actor, err error) {
	entry, err := a.Enter(ctx, login, password, Client{Address: clientIP})
	if err == nil && entry.Token == "" {
		return "", review.Actor{}, secondFactorAsked()
	}
	return entry.Token, entry.Actor, err
}

func secondFactorAsked() error {
	return review.Errorf(review.KindUnknownActor, "This account asks for a second factor. Nothing was changed; send a one-time code or a recovery code with the password.")
}

// Enter logs in for TokenLife, or asks for the second factor. A wrong login, a wrong password and a disabled
// account are the same review.KindUnknownActor error after the same work; too many attempts are a TooManyError.
func (a *Accounts) Enter(ctx context.Context, login, password string, from Client) (Entry, error) {
	account, err := a.withPassword(ctx, login, password, from.Address)
	if err != nil {
		return Entry{}, err
	}
	entry, err := a.enter(ctx, account, from)
	if err == nil && entry.Token == "" {
		return entry, nil
	}
	return entry, a.told(err, account, from.Address)
}

// told tells of a login that begins, or that the account has ended meanwhile.
func (a *Accounts) told(err error, account Account, clientIP string) error {
	switch {
	case err == nil:
		a.tell(account.Login, clientIP, LoggedIn)
	case review.KindOf(err) == review.KindUnknownActor:
		a.tell(account.Login, clientIP, AccountEnded)
	}
	return err
}

// withPassword is the account of a login with its password, or why not.
func (a *Accounts) withPassword(ctx context.Context, login, password, clientIP string) (Account, error) {
	prepared, ok := prepareLogin(login)
	refused := a.takeAttempt(ctx, prepared, clientIP)
	if refused != nil && !errors.Is(refused, ErrTooMany) {
		return Account{}, refused
	}
	account, known, err := a.find(ctx, prepared, ok)
	if err != nil {
		return Account{}, err
	}
	if refused != nil {
		a.tell(account.Login, clientIP, TooOften)
		return Account{}, refused
	}
	matches, err := a.matches(ctx, password, account, known)
	if err != nil {
		return Account{}, err
	}
	if !matches || account.Disabled {
		a.tell(account.Login, clientIP, whyRefused(account, known, matches))
		return Account{}, wrongLogin()
	}
	return account, nil
}

// whyRefused is for the log; who tries is told the same in every case.
func whyRefused(account Account, known, matches bool) Outcome {
	switch {
	case !known:
		return UnknownLogin
	case !matches:
		return WrongPassword
	}
	return AccountEnded
}

func wrongLogin() error {
	return review.Errorf(review.KindUnknownActor, "The login or the password is wrong, or the account has been disabled. Try again, or ask the keeper of this server.")
}

func (a *Accounts) find(ctx context.Context, login string, valid bool) (account Account, known bool, err error) {
	if !valid {
		return Account{}, false, nil
	}
	account, err = a.store.AccountByLogin(ctx, login)
	if review.KindOf(err) == review.KindNotFound || account.Role == review.RoleMachine { // which has no password
		return Account{}, false, nil
	}
	return account, err == nil, err
}

// matches does the work of one password in every case, so that its time does not tell whether a login exists.
func (a *Accounts) matches(ctx context.Context, password string, account Account, known bool) (bool, error) {
	hash := account.PasswordHash
	if known = known && hash != ""; !known { // who comes by the provider has no password
		hash = a.hasher.unknown
	}
	prepared, err := preparePassword(password)
	ok, failed := a.hasher.matches(ctx, prepared, hash)
	return ok && known && err == nil, failed
}

// Actor is who acts when the account is logged in.
func (a Account) Actor() review.Actor {
	actor := review.Actor{Person: a.Person, Name: a.Name, Role: a.Role, Scopes: a.Scopes, Machines: a.Machines}
	if a.Role == review.RoleReviewer {
		actor.Families = a.Families
	}
	return actor
}

// begin stores a session and returns the token that stands for it. An account that has changed since its password was
// looked at gets none.
func (a *Accounts) begin(ctx context.Context, account Account, kind string, from Client) (string, Session, error) {
	now, life := a.now(), TokenLife
	if kind == accessType {
		life = ProgramLife
	}
	session := Session{ID: rand.Text(), Person: account.Person, CreatedAt: now, ExpiresAt: now.Add(life), SeenAt: now, Browser: from.Browser, Way: from.Way, ProvenAt: from.ProvenAt}
	err := a.store.CreateSession(ctx, session, account.Version)
	if review.KindOf(err) == review.KindNotFound {
		return "", Session{}, wrongLogin()
	}
	if err != nil {
		return "", Session{}, err
	}
	token, err := a.tokenFor(session, kind)
	return token, session, err
}

// skew is what the clocks of two servers of a club may differ by.
const skew = 30 * time.Second

// tokenFor signs a token of a session that ends with it, or earlier.
func (a *Accounts) tokenFor(s Session, kind string) (string, error) {
	now := a.now()
	key, err := a.keys.signs(time.Now())
	if err != nil {
		return "", err
	}
	until := s.ExpiresAt
	if access := now.Add(AccessLife); kind == accessType && access.Before(until) {
		until = access
	}
	return sign(key, kind, claims{jwt.RegisteredClaims{ID: s.ID, Issuer: issuer, Audience: jwt.ClaimStrings{audience}, Subject: s.Person,
		IssuedAt: jwt.NewNumericDate(now), NotBefore: jwt.NewNumericDate(now.Add(-skew)), ExpiresAt: jwt.NewNumericDate(until)}})
}

// Actor returns whom a token of a browser stands for, with the role that the account has now. A token that is not one of ours, has
// run out or was ended, and a disabled account, are a review.KindUnknownActor error.
func (a *Accounts) Actor(ctx context.Context, token string) (review.Actor, error) {
	account, err := a.Account(ctx, token)
	return account.Actor(), err
}

// Account is the account that a token of a browser is a login of; the errors are those of Actor.
func (a *Accounts) Account(ctx context.Context, token string) (Account, error) {
	account, _, err := a.verify(ctx, token, loginType)
	return account, err
}

// Program is the account for which a program acts by the token of an Authorization header: an access token, or a machine's. The
// errors are those of Actor.
func (a *Accounts) Program(ctx context.Context, token string) (Account, error) {
	if isMachineToken(token) {
		return a.machine(ctx, token)
	}
	account, _, err := a.verify(ctx, token, accessType)
	return account, err
}

// Formerly is the login of the account that a token was given to, and whether it was given by this service at all, however long
// ago it has run out or was ended. The login is empty where there is no such account any more. It is for the log: nobody acts
// by it.
func (a *Accounts) Formerly(ctx context.Context, token string) (login string, ours bool, err error) {
	person := a.Former(token)
	if person == "" {
		return "", false, nil
	}
	account, err := a.store.AccountByPerson(ctx, person)
	if review.KindOf(err) == review.KindNotFound {
		return "", true, nil
	}
	return account.Login, true, err
}

// Former is the person that a token was given to, however long ago it has run out or was ended; empty where it is none of ours. It
// lets nobody act: it tells whose a form is that was sent with it.
func (a *Accounts) Former(token string) (person string) {
	for _, kind := range []string{loginType, accessType} {
		c, err := a.keys.parseToken(token, kind, a.now, jwt.WithLeeway(whenever))
		if err == nil {
			return c.Subject
		}
	}
	return ""
}

// whenever is more than any token was given before or after now.
const whenever = 100 * 365 * 24 * time.Hour

// ownToken is whatever token somebody is logged in by, of a browser or a program: for who was let in by it already.
const ownToken = ""

func (a *Accounts) verify(ctx context.Context, token, kind string) (Account, Session, error) {
	c, err := a.keys.parseToken(token, cmp.Or(kind, loginType), a.now)
	if err != nil && kind == ownToken {
		c, err = a.keys.parseToken(token, accessType, a.now)
	}
	if err != nil {
		return Account{}, Session{}, notLoggedIn()
	}
	account, session, err := a.store.AccountBySession(ctx, c.ID, a.now(), a.idleSince())
	if review.KindOf(err) == review.KindNotFound {
		return Account{}, Session{}, notLoggedIn()
	}
	if err != nil {
		return Account{}, Session{}, err
	}
	if account.Person != c.Subject || account.Role == review.RoleMachine {
		return Account{}, Session{}, notLoggedIn()
	}
	a.see(ctx, session)
	account.Way = session.Way
	return account, session, nil
}

func notLoggedIn() error {
	return review.Errorf(review.KindUnknownActor, "You are not logged in, or the login has ended. Nothing was changed; log in and try again.")
}

// Logout ends the login that a token stands for, wherever a copy of the token is. One that has ended already is no error.
func (a *Accounts) Logout(ctx context.Context, token string) error {
	for _, kind := range []string{loginType, accessType} {
		if c, err := a.keys.parseToken(token, kind, a.now); err == nil {
			return a.store.EndSession(ctx, c.ID)
		}
	}
	return nil // it stands for nobody
}

// LogoutEverywhere ends all logins of a person, on every device.
func (a *Accounts) LogoutEverywhere(ctx context.Context, person string) error {
	return a.store.EndSessions(ctx, person, "")
}

// SetPassword gives an account a new password and ends all its logins.
func (a *Accounts) SetPassword(ctx context.Context, login, password string) error {
	folded, _ := prepareLogin(login)
	prepared, err := newPassword(password, folded)
	if err != nil {
		return err
	}
	hash, err := a.hasher.hash(ctx, prepared)
	if err != nil {
		return err
	}
	return a.change(ctx, login, PasswordSet, AccountChange{PasswordHash: &hash, EndSessions: true})
}

// SetRole gives an account another role, in force from its next request, with the reason for it, which the history keeps.
func (a *Accounts) SetRole(ctx context.Context, login string, role review.Role, reason string) error {
	if !role.ForPeople() {
		return review.Invalidf("role", "must be member, keeper, reviewer or curator")
	}
	return a.changeFor(ctx, login, RoleChanged, AccountChange{Role: &role, Reason: reason})
}

// MostFamilies is how many families a reviewer may be named for; who reads more than that reviews all.
const MostFamilies = 40

// SetFamilies names a reviewer for some families, or, with none, for all again. by is who does so. Whether there are such families
// is for the caller to look up (Service.CheckFamilies).
func (a *Accounts) SetFamilies(ctx context.Context, by review.Actor, person string, families []string, reason string) error {
	if err := checkReason(reason); err != nil {
		return err
	}
	account, err := a.store.AccountByPerson(ctx, person)
	if err != nil {
		return err
	}
	if account.Role != review.RoleReviewer {
		return review.Errorf(review.KindConflict, "Only reviewers are named for families, and this person is none. Nothing was changed; a curator reviews all of them.")
	}
	kept := review.FamiliesOf(families)
	if len(kept.Names()) > MostFamilies {
		return review.Invalidf("families", "at most %d; who reads more reviews all", MostFamilies)
	}
	return a.done(ctx, FamiliesNamed, account.Login, a.store.ChangeAccount(ctx, person, AccountChange{By: by, Families: &kept, Reason: reason}))
}

// Disable ends all logins of an account and refuses new ones.
func (a *Accounts) Disable(ctx context.Context, login string, reason string) error {
	return a.changeFor(ctx, login, AccountDisabled, AccountChange{Disabled: new(true), Reason: reason, EndSessions: true})
}

// Enable allows a disabled account to log in again.
func (a *Accounts) Enable(ctx context.Context, login string, reason string) error {
	return a.changeFor(ctx, login, AccountEnabled, AccountChange{Disabled: new(false), Reason: reason})
}

// changeFor is a change that somebody makes of another person's account: it takes a reason.
func (a *Accounts) changeFor(ctx context.Context, login string, what Happening, c AccountChange) error {
	if err := checkReason(c.Reason); err != nil {
		return err
	}
	return a.change(ctx, login, what, c)
}

func checkReason(reason string) error {
	var p review.Problems
	review.CheckText(&p, "reason", reason, 1, review.MaxNote)
	return p.Err()
}

// Erase removes an account and the name of its person for good, with the reason for it, which the history keeps. What they have done
// stays there under their id, which by itself tells nothing.
func (a *Accounts) Erase(ctx context.Context, login, reason string) error {
	if err := checkReason(reason); err != nil {
		return err
	}
	account, err := a.Named(ctx, login)
	if err != nil {
		return err
	}
	return a.done(ctx, PersonErased, account.Person, a.store.ErasePerson(ctx, review.Actor{}, account.Person, reason))
}

// Named is the account of a login, however it is written.
func (a *Accounts) Named(ctx context.Context, login string) (Account, error) {
	prepared, ok := prepareLogin(login)
	if !ok {
		return Account{}, review.Errorf(review.KindNotFound, "There is no account %q.", login)
	}
	return a.store.AccountByLogin(ctx, prepared)
}

func (a *Accounts) change(ctx context.Context, login string, what Happening, c AccountChange) error {
	account, err := a.Named(ctx, login)
	if err != nil {
		return err
	}
	return a.apply(ctx, account, what, c)
}

// apply makes a change of an account, if it may be made of one of its role.
func (a *Accounts) apply(ctx context.Context, account Account, what Happening, c AccountChange) error {
	switch {
	case account.Role == review.RoleMachine && (c.Role != nil || c.PasswordHash != nil):
		return isMachine(account)
	case c.Role != nil && account.Families != "": // they are a reviewer's
		c.Families = new(review.Families)
	}
	return a.done(ctx, what, account.Login, a.store.ChangeAccount(ctx, account.Person, c))
}

func isMachine(account Account) error {
	return review.Errorf(review.KindConflict, "%q is a machine: it has tokens in place of a password, and its role stays. Nothing was changed.", account.Login)
}

package auth

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
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
	store  Store
	key    []byte
	now    func() time.Time
	newID  func() string
	hasher *hasher
	limits Limits
	watch  func(Attempt)
	log    *slog.Logger
	mails  bool
	idle   time.Duration
	// formerKeys are those by which what was sealed before is still read.
	formerKeys [][]byte
	passkeys   *webauthn.WebAuthn // nil: there are none
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
	// Mails: the club sends mail, so that links are sent.
	Mails bool
	// IdleLimit is how long a login lasts that is not used; 0 is DefaultIdleLimit.
	IdleLimit time.Duration
	// FormerKeys are keys of the club that are no more in force, by which what was sealed with them is still read.
	FormerKeys [][]byte
	// PublicURL is where browsers find the pages, such as https://beetles.example: passkeys are bound to it; empty: there are none.
	PublicURL string
	// Log takes faults that stop nobody; nil is slog.Default.
	Log *slog.Logger
}

// NewAccounts returns accounts over a store. key signs the tokens: at least 32 random bytes, the same in every process.
func NewAccounts(store Store, key []byte, o Options) (*Accounts, error) {
	if len(key) < minKey {
		return nil, fmt.Errorf("auth: the key has %d bytes; at least %d are needed", len(key), minKey)
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
	hasher, err := newHasher(o.Hashers)
	if err != nil {
		return nil, err
	}
	passkeys, err := newPasskeys(o.PublicURL)
	if err != nil {
		return nil, err
	}
	return &Accounts{formerKeys: o.FormerKeys, passkeys: passkeys, store: store, key: key, now: o.Now, newID: o.NewID, hasher: hasher, limits: o.Limits.orDefault(), mails: o.Mails,
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
	var problems review.Problems
	login, ok := prepareLogin(login)
	if !ok {
		problems.Addf("login", "must be letters, digits and signs without spaces, at most %d", maxLogin)
	}
	name = strings.TrimSpace(name)
	checkName(&problems, name)
	if !role.Valid() {
		problems.Addf("role", "must be member, reviewer or curator")
	}
	password, err := newPassword(password, login)
	problems = append(problems, fieldsOf(err)...)
	if err := problems.Err(); err != nil {
		return Account{}, err
	}
	hash, err := a.hasher.hash(ctx, password)
	if err != nil {
		return Account{}, err
	}
	return Account{Name: name, Login: login, Role: role, PasswordHash: hash, Version: 1, CreatedAt: a.moment()}, nil
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
	return a.LoginWithCode(ctx, login, password, "", clientIP)
}

// LoginWithCode is Login with a one-time code, or a recovery code, for an account that asks for a second factor.
func (a *Accounts) LoginWithCode(ctx context.Context, login, password, code, clientIP string) (token string, actor review.Actor, err error) {
	from := Client{Address: clientIP}
	entry, err := a.Enter(ctx, login, password, from)
	if err == nil && entry.Token == "" {
		if code == "" {
			return "", review.Actor{}, review.Errorf(review.KindUnknownActor, "This account asks for a second factor. Nothing was changed; send a one-time code or a recovery code with the password.")
		}
		entry, err = a.EnterCode(ctx, entry.Step, code, from)
	}
	return entry.Token, entry.Actor, err
}

// Enter logs in for TokenLife, or asks for the second factor. A wrong login, a wrong password and a disabled
// account are the same review.KindUnknownActor error after the same work; too many attempts are a TooManyError.
func (a *Accounts) Enter(ctx context.Context, login, password string, from Client) (Entry, error) {
	clientIP := from.Address
	prepared, ok := prepareLogin(login)
	refused := a.takeAttempt(ctx, prepared, clientIP)
	if refused != nil && !errors.Is(refused, ErrTooMany) {
		return Entry{}, refused
	}
	account, known, err := a.find(ctx, prepared, ok)
	if err != nil {
		return Entry{}, err
	}
	if refused != nil {
		a.tell(account.Login, clientIP, TooOften)
		return Entry{}, refused
	}
	matches, err := a.matches(ctx, password, account, known)
	if err != nil {
		return Entry{}, err
	}
	if !matches || account.Disabled {
		a.tell(account.Login, clientIP, whyRefused(account, known, matches))
		return Entry{}, wrongLogin()
	}
	entry, err := a.enter(ctx, account, from)
	if err != nil {
		if review.KindOf(err) == review.KindUnknownActor {
			a.tell(account.Login, clientIP, AccountEnded)
		}
		return Entry{}, err
	}
	if entry.Token != "" {
		a.tell(account.Login, clientIP, LoggedIn)
	}
	return entry, nil
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
	if review.KindOf(err) == review.KindNotFound {
		return Account{}, false, nil
	}
	return account, err == nil, err
}

// matches does the work of one password in every case, so that its time does not tell whether a login exists.
func (a *Accounts) matches(ctx context.Context, password string, account Account, known bool) (bool, error) {
	hash := account.PasswordHash
	if !known {
		hash = a.hasher.unknown
	}
	prepared, err := preparePassword(password)
	ok, failed := a.hasher.matches(ctx, prepared, hash)
	return ok && known && err == nil, failed
}

// Actor is who acts when the account is logged in.
func (a Account) Actor() review.Actor {
	return review.Actor{Person: a.Person, Name: a.Name, Role: a.Role}
}

// begin stores a session and returns the token that stands for it. An account that has changed since its password was
// looked at gets none.
func (a *Accounts) begin(ctx context.Context, account Account, from Client) (string, error) {
	now := a.now()
	session := Session{ID: rand.Text(), Person: account.Person, CreatedAt: now, ExpiresAt: now.Add(TokenLife), SeenAt: now, Browser: from.Browser}
	err := a.store.CreateSession(ctx, session, account.Version)
	if review.KindOf(err) == review.KindNotFound {
		return "", wrongLogin()
	}
	if err != nil {
		return "", err
	}
	return sign(a.key, claims{jwt.RegisteredClaims{ID: session.ID, Issuer: issuer, Audience: jwt.ClaimStrings{audience},
		Subject: session.Person, IssuedAt: jwt.NewNumericDate(now), ExpiresAt: jwt.NewNumericDate(session.ExpiresAt)}})
}

// Actor returns whom a token stands for, with the role that the account has now. A token that is not one of ours, has
// run out or was ended, and a disabled account, are a review.KindUnknownActor error.
func (a *Accounts) Actor(ctx context.Context, token string) (review.Actor, error) {
	account, err := a.Account(ctx, token)
	return account.Actor(), err
}

// Account is the account that a token is a login of; the errors are those of Actor.
func (a *Accounts) Account(ctx context.Context, token string) (Account, error) {
	account, _, err := a.verify(ctx, token)
	return account, err
}

// Formerly is the login of the account that a token was given to, and whether it was given by this service at all, however long
// ago it has run out or was ended. The login is empty where there is no such account any more. It is for the log: nobody acts
// by it.
func (a *Accounts) Formerly(ctx context.Context, token string) (login string, ours bool, err error) {
	c, err := parseLogin(token, a.key, func() time.Time { return time.Time{} }) // before any login has run out
	if err != nil {
		return "", false, nil
	}
	account, err := a.store.AccountByPerson(ctx, c.Subject)
	if review.KindOf(err) == review.KindNotFound {
		return "", true, nil
	}
	return account.Login, true, err
}

// Former is the person that a token was given to, however long ago it has run out or was ended; empty where it is none of ours. It
// lets nobody act: it tells whose a form is that was sent with it.
func (a *Accounts) Former(token string) (person string) {
	c, err := parseLogin(token, a.key, func() time.Time { return time.Time{} })
	if err != nil {
		return ""
	}
	return c.Subject
}

// Expiry returns when a valid token runs out; the errors are those of Actor.
func (a *Accounts) Expiry(ctx context.Context, token string) (time.Time, error) {
	_, c, err := a.verify(ctx, token)
	if err != nil {
		return time.Time{}, err
	}
	return c.ExpiresAt.UTC(), nil
}

func (a *Accounts) verify(ctx context.Context, token string) (Account, claims, error) {
	c, err := parseLogin(token, a.key, a.now)
	if err != nil {
		return Account{}, claims{}, notLoggedIn()
	}
	account, session, err := a.store.AccountBySession(ctx, c.ID, a.now(), a.idleSince())
	if review.KindOf(err) == review.KindNotFound {
		return Account{}, claims{}, notLoggedIn()
	}
	if err != nil {
		return Account{}, claims{}, err
	}
	if account.Person != c.Subject {
		return Account{}, claims{}, notLoggedIn()
	}
	a.see(ctx, session)
	return account, c, nil
}

func notLoggedIn() error {
	return review.Errorf(review.KindUnknownActor, "You are not logged in, or the login has ended. Nothing was changed; log in and try again.")
}

// Logout ends the login that a token stands for, wherever a copy of the token is. One that has ended already is no error.
func (a *Accounts) Logout(ctx context.Context, token string) error {
	c, err := parseLogin(token, a.key, a.now)
	if err != nil {
		return nil // it stands for nobody
	}
	return a.store.EndSession(ctx, c.ID)
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
	return a.change(ctx, login, AccountChange{PasswordHash: &hash, EndSessions: true})
}

// SetRole gives an account another role, in force from its next request, with the reason for it, which the history keeps.
func (a *Accounts) SetRole(ctx context.Context, login string, role review.Role, reason string) error {
	if !role.Valid() {
		return review.Invalidf("role", "must be member, reviewer or curator")
	}
	return a.changeFor(ctx, login, AccountChange{Role: &role, Reason: reason})
}

// Disable ends all logins of an account and refuses new ones.
func (a *Accounts) Disable(ctx context.Context, login string, reason string) error {
	return a.changeFor(ctx, login, AccountChange{Disabled: new(true), Reason: reason, EndSessions: true})
}

// Enable allows a disabled account to log in again.
func (a *Accounts) Enable(ctx context.Context, login string, reason string) error {
	return a.changeFor(ctx, login, AccountChange{Disabled: new(false), Reason: reason})
}

// changeFor is a change that somebody makes of another person's account: it takes a reason.
func (a *Accounts) changeFor(ctx context.Context, login string, c AccountChange) error {
	if err := checkReason(c.Reason); err != nil {
		return err
	}
	return a.change(ctx, login, c)
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
	return a.store.ErasePerson(ctx, review.Actor{}, account.Person, reason)
}

// Named is the account of a login, however it is written.
func (a *Accounts) Named(ctx context.Context, login string) (Account, error) {
	prepared, ok := prepareLogin(login)
	if !ok {
		return Account{}, review.Errorf(review.KindNotFound, "There is no account %q.", login)
	}
	return a.store.AccountByLogin(ctx, prepared)
}

func (a *Accounts) change(ctx context.Context, login string, c AccountChange) error {
	account, err := a.Named(ctx, login)
	if err != nil {
		return err
	}
	return a.store.ChangeAccount(ctx, account.Person, c)
}

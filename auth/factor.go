package auth

import (
	"context"
	"crypto/rand"
	"strings"
	"time"

	"revidit/review"
)

// FactorStore keeps what is asked for beside a password, and logins that are half done. Each change of what an account has is an event,
// of who is named; nothing of a secret is in it.
type FactorStore interface {
	// StoreStep stores a login, or a registering of a passkey, that is half done, in place of the one with its digest. ReadStep is one that
	// has not run out, and TakeStep removes it besides: of two who take it one hears that there is none.
	StoreStep(ctx context.Context, s LoginStep) error
	ReadStep(ctx context.Context, kind StepKind, digest string, now time.Time) (LoginStep, error)
	TakeStep(ctx context.Context, kind StepKind, digest string, now time.Time) (LoginStep, error)
	// Factors are what an account has.
	Factors(ctx context.Context, person string) (Factors, error)
	// Passkey is one by the id of its credential, whoever has it.
	Passkey(ctx context.Context, id string) (Passkey, error)
	// AddPasskey stores a new one. codes are digests of recovery codes, stored where the account has none yet: given says so.
	AddPasskey(ctx context.Context, c FactorChange, p Passkey, codes []string) (given bool, err error)
	// UsePasskey stores what its use has changed.
	UsePasskey(ctx context.Context, p Passkey) error
	// BeginCodes stores a secret that counts for nothing until ConfirmCodes, which is as AddPasskey; step is the one that was used for it.
	BeginCodes(ctx context.Context, person string, sealed []byte, at time.Time) error
	ConfirmCodes(ctx context.Context, c FactorChange, step int64, codes []string) (given bool, err error)
	// UseCode notes that a time step was used; it is false where that or a later one was used before.
	UseCode(ctx context.Context, person string, step int64) (bool, error)
	// UseRecovery removes a recovery code by its digest; it is false where there is none.
	UseRecovery(ctx context.Context, person, digest string) (bool, error)
	// ReplaceRecovery puts new recovery codes in place of all others.
	ReplaceRecovery(ctx context.Context, c FactorChange, codes []string) error
	// RemoveFactor removes one; a passkey by its id, or everything with FactorAll. With the last one recovery codes go.
	RemoveFactor(ctx context.Context, c FactorChange, kind review.FactorKind, id string) error
}

// FactorChange says whose second factors change, by whom, and the letter that tells the person.
type FactorChange struct {
	By     review.Actor
	Person string
	Reason string // of who removes those of somebody else
	Letter review.Letter
}

// ownFactor is a change of the own second factors.
func (a *Accounts) ownFactor(account Account, told review.LetterKind) FactorChange {
	return FactorChange{By: account.Actor(), Person: account.Person, Letter: a.letterTo(account.Person, told)}
}

// Factors are what an account is asked for beside a password.
type Factors struct {
	Passkeys []Passkey
	// Sealed is the secret of one-time codes, as it is stored, and LastStep the last time step that was used; Codes says whether it counts.
	Sealed   []byte
	LastStep int64
	Codes    bool
	Recovery int // recovery codes that were not used yet
}

// Any says whether there is one.
func (f Factors) Any() bool { return f.Codes || len(f.Passkeys) > 0 }

// StepKind is what is half done.
type StepKind string

const (
	// StepSecond: the password was right, and the second factor is asked for.
	StepSecond StepKind = "second"
	// StepPasskey: somebody logs in with a passkey alone.
	StepPasskey StepKind = "passkey"
	// StepRegister: somebody who is logged in registers a passkey.
	StepRegister StepKind = "register"
	// StepProvider: somebody is on the way to the OpenID provider.
	StepProvider StepKind = "provider"
)

// stepLife is how long something may stay half done.
const stepLife = 10 * time.Minute

// LoginStep is something half done. Who does it holds a secret, of which the digest is stored.
type LoginStep struct {
	Digest    string
	Kind      StepKind
	Person    string // empty: not known yet
	Version   int    // of the account, at which the password was looked at
	Data      string // JSON of what the ceremony of a passkey, or the way to the provider, rests on; empty: none has begun
	Way       string // as of Session, by which somebody has come as far as the second factor, with ProvenAt
	ProvenAt  *time.Time
	ExpiresAt time.Time
}

// Entry is how far somebody has come who logs in.
type Entry struct {
	Token string // of the login; empty: the second factor is asked for
	Actor review.Actor
	// Step is the secret of who is asked for the second factor.
	Step string
}

// enter ends a login by password, or asks for the second factor where the account has one.
func (a *Accounts) enter(ctx context.Context, account Account, from Client) (Entry, error) {
	if !account.SecondFactor {
		token, _, err := a.begin(ctx, account, loginType, from)
		return Entry{Token: token, Actor: account.Actor()}, err
	}
	secret, err := a.newStep(ctx, LoginStep{Kind: StepSecond, Person: account.Person, Version: account.Version})
	return Entry{Actor: account.Actor(), Step: secret}, err
}

func (a *Accounts) newStep(ctx context.Context, s LoginStep) (secret string, err error) {
	secret = rand.Text()
	s.Digest, s.ExpiresAt = review.SecretDigest(secret), a.moment().Add(stepLife)
	return secret, a.store.StoreStep(ctx, s)
}

// AskedSecond is what may be given as a second factor by who holds the secret of a step.
func (a *Accounts) AskedSecond(ctx context.Context, secret string) (Factors, error) {
	s, err := a.second(ctx, secret)
	if err != nil {
		return Factors{}, err
	}
	return a.store.Factors(ctx, s.Person)
}

func (a *Accounts) second(ctx context.Context, secret string) (LoginStep, error) {
	s, err := a.store.ReadStep(ctx, StepSecond, review.SecretDigest(secret), a.moment())
	return s, stepGone(err)
}

func stepGone(err error) error {
	if review.KindOf(err) == review.KindNotFound {
		return review.Errorf(review.KindUnknownActor, "This took too long, or was done already. Log in once more.")
	}
	return err
}

// CodeLimit is how often a code may be tried for an account (our own choice): with the window of three time steps somebody who has the
// password guesses one in a thousand days.
var CodeLimit = Limit{Burst: 5, Every: 5 * time.Minute}

// EnterCode ends a login with a one-time code, or with a recovery code, which is then used up.
func (a *Accounts) EnterCode(ctx context.Context, secret, code string, from Client) (Entry, error) {
	s, err := a.second(ctx, secret)
	if err != nil {
		return Entry{}, err
	}
	account, err := a.store.AccountByPerson(ctx, s.Person)
	if err != nil {
		return Entry{}, stepGone(err)
	}
	if err := a.proveCode(ctx, account, code, from); err != nil {
		return Entry{}, err
	}
	return a.endSecond(ctx, secret, account, from)
}

// proveCode counts a code that is tried, and uses it up where it holds.
func (a *Accounts) proveCode(ctx context.Context, account Account, code string, from Client) error {
	if err := a.count(ctx, a.limits.PerAddress, "code from", AddressKey(from.Address)); err != nil {
		return err
	}
	if err := a.count(ctx, CodeLimit, "code of", account.Person); err != nil {
		return err
	}
	ok, err := a.codeHolds(ctx, account.Person, code)
	if err != nil {
		return err
	}
	if !ok {
		a.tell(account.Login, from.Address, WrongCode)
		return review.Invalidf("code", "is not right, or was used already; wait for the next one")
	}
	return nil
}

// endSecond logs in who has given the second factor.
func (a *Accounts) endSecond(ctx context.Context, secret string, account Account, from Client) (Entry, error) {
	s, err := a.store.TakeStep(ctx, StepSecond, review.SecretDigest(secret), a.moment())
	if err != nil {
		return Entry{}, stepGone(err)
	}
	account.Version = s.Version // nothing has changed since the password was looked at
	from.Way, from.ProvenAt = s.Way, s.ProvenAt
	return a.endLogin(ctx, account, from)
}

func (a *Accounts) endLogin(ctx context.Context, account Account, from Client) (Entry, error) {
	token, _, err := a.begin(ctx, account, loginType, from)
	if err != nil {
		if review.KindOf(err) == review.KindUnknownActor {
			a.tell(account.Login, from.Address, AccountEnded)
		}
		return Entry{}, err
	}
	a.tell(account.Login, from.Address, LoggedIn)
	return Entry{Token: token, Actor: account.Actor()}, nil
}

// codeHolds says whether a code is the present one-time code, or a recovery code, of a person, and uses it up.
func (a *Accounts) codeHolds(ctx context.Context, person, code string) (bool, error) {
	factors, err := a.store.Factors(ctx, person)
	if err != nil {
		return false, err
	}
	code = plainCode(code)
	if factors.Codes {
		step, ok, err := a.stepOf(person, factors.Sealed, code)
		if err != nil {
			return false, err
		}
		if ok {
			return a.store.UseCode(ctx, person, step)
		}
	}
	return a.store.UseRecovery(ctx, person, review.SecretDigest(code))
}

// plainCode is a code without what people write between its parts.
func plainCode(code string) string {
	return strings.ToUpper(strings.NewReplacer(" ", "", "-", "", "\t", "").Replace(code))
}

// recoveryCodes is how many an account gets, and recoveryLetters how long each is: 80 random bits.
const (
	recoveryCodes   = 10
	recoveryLetters = 16
)

// newRecovery are new recovery codes as they are written down, and their digests.
func newRecovery() (codes, digests []string) {
	for range recoveryCodes {
		code := rand.Text()[:recoveryLetters]
		digests = append(digests, review.SecretDigest(code))
		codes = append(codes, code[:4]+"-"+code[4:8]+"-"+code[8:12]+"-"+code[12:])
	}
	return codes, digests
}

// OwnFactors are those of who is logged in.
func (a *Accounts) OwnFactors(ctx context.Context, person string) (Factors, error) {
	return a.store.Factors(ctx, person)
}

// RenewRecovery makes new recovery codes for who is logged in by a token and knows the password; all former ones end.
func (a *Accounts) RenewRecovery(ctx context.Context, token, present, clientIP string) (codes []string, err error) {
	account, err := a.proven(ctx, token, present, clientIP)
	if err != nil {
		return nil, err
	}
	if !account.SecondFactor {
		return nil, review.Errorf(review.KindConflict, "Your login asks for no second factor, so that there is nothing to recover. Nothing was changed.")
	}
	codes, digests := newRecovery()
	return codes, a.store.ReplaceRecovery(ctx, a.ownFactor(account, review.LetterRecoveryRenewed), digests)
}

// proven is the account of who is logged in by a token and knows the password.
func (a *Accounts) proven(ctx context.Context, token, present, clientIP string) (Account, error) {
	account, s, err := a.verify(ctx, token, ownToken)
	if err != nil {
		return Account{}, err
	}
	return account, a.proves(ctx, account, s, present, clientIP)
}

// RemoveFactor removes one of the own second factors; a passkey by its id.
func (a *Accounts) RemoveFactor(ctx context.Context, token, present, clientIP string, kind review.FactorKind, id string) error {
	account, err := a.proven(ctx, token, present, clientIP)
	if err != nil {
		return err
	}
	return a.store.RemoveFactor(ctx, a.ownFactor(account, review.LetterFactorRemoved), kind, id)
}

// RemoveFactorsOf removes all second factors of a person who has lost them, by who keeps accounts, with a reason. The password is asked
// for as before.
func (a *Accounts) RemoveFactorsOf(ctx context.Context, by review.Actor, person, reason string) error {
	if err := mayChange(by, person); err != nil {
		return err
	}
	if err := checkReason(reason); err != nil {
		return err
	}
	c := FactorChange{By: by, Person: person, Reason: reason, Letter: a.letterTo(person, review.LetterFactorsTakenOff)}
	return a.store.RemoveFactor(ctx, c, review.FactorAll, "")
}

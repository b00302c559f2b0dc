package auth

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"regexp"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"revidit/review"
)

// MachineToken is a token of a program that acts for itself, as it is stored. The account bears its name, and its acts.
type MachineToken struct {
	ID        string        `json:"id"`
	Person    string        `json:"machine" doc:"Whose acts are told under this id"`
	Name      string        `json:"name"`
	Purpose   string        `json:"purpose"`
	Scopes    review.Scopes `json:"scopes" doc:"What it may be used for, with a space between"`
	CreatedBy string        `json:"created_by"`
	CreatedAt time.Time     `json:"created_at"`
	ExpiresAt time.Time     `json:"expires_at"`
	LastUsed  *time.Time    `json:"last_used,omitempty" doc:"To a minute"`
	RevokedAt *time.Time    `json:"revoked_at,omitempty"`
	Digest    string        `json:"-"`
}

// MachineStore keeps machines and their tokens. Secrets are stored as digests.
type MachineStore interface {
	// CreateMachine stores a machine with its first token.
	CreateMachine(ctx context.Context, by review.Actor, account Account, t MachineToken) error
	// AddMachineToken stores a further token of a machine. A person who is none is not found.
	AddMachineToken(ctx context.Context, by review.Actor, t MachineToken) error
	// MachineByToken is a token and the account of its machine. One that is revoked or of a disabled account is not found.
	MachineByToken(ctx context.Context, id string) (MachineToken, Account, error)
	// UsedMachineToken notes when a token was used last.
	UsedMachineToken(ctx context.Context, id string, at time.Time) error
	// RevokeMachineToken ends a token, from now on and for ever; one that was revoked stays so.
	RevokeMachineToken(ctx context.Context, by review.Actor, id, reason string, at time.Time) error
	// FindMachineTokens lists all tokens, the latest first.
	FindMachineTokens(ctx context.Context) ([]MachineToken, error)
}

// MachineForm says which token a machine is to have.
type MachineForm struct {
	// Machine is the id of one that there is; empty: a new one, with Name.
	Machine string         `json:"machine,omitempty" maxLength:"60" doc:"A machine that is there already; left out: a new one"`
	Name    string         `json:"name,omitempty" maxLength:"120" doc:"Of a new one: as its acts are told"`
	Purpose string         `json:"purpose" minLength:"1" maxLength:"2000" doc:"What it is for; kept in the history for ever"`
	Scopes  []review.Scope `json:"scopes" minItems:"1" maxItems:"4" enum:"read,submit,export,print"`
	Days    int            `json:"days" minimum:"1" maximum:"365" doc:"How long it is good"`
}

// MostMachineDays is how long a token of a machine is good at most.
const MostMachineDays = 365

const machinePrefix = "rm_"

var machineForm = regexp.MustCompile(`^rm_([A-Z2-7]{26})_([A-Z2-7]{26})$`)

// isMachineToken says whether a text is meant for one, so that it is looked at as nothing else.
func isMachineToken(token string) bool { return strings.HasPrefix(token, machinePrefix) }

// check returns all that is wrong with a form.
func (f MachineForm) check() error {
	var p review.Problems
	name := strings.TrimSpace(f.Name)
	if f.Machine == "" && (name == "" || utf8.RuneCountInString(name) > maxName || !utf8.ValidString(name) || strings.ContainsFunc(name, unicode.IsControl)) {
		p.Addf("name", "must be text of 1 to %d letters", maxName)
	}
	review.CheckText(&p, "purpose", f.Purpose, 1, review.MaxNote)
	if kept := strings.Fields(string(review.ScopesOf(f.Scopes))); len(f.Scopes) == 0 || len(kept) != len(f.Scopes) {
		p.Addf("scopes", "must be some of read, submit, export and print, each once")
	}
	if f.Days < 1 || f.Days > MostMachineDays {
		p.Addf("days", "must be from 1 to %d", MostMachineDays)
	}
	return p.Err()
}

// GiveMachineToken makes a token of a machine, and the machine where it is a new one. The secret is returned once and stored nowhere.
func (a *Accounts) GiveMachineToken(ctx context.Context, by review.Actor, f MachineForm) (secret string, t MachineToken, err error) {
	if by.Person != "" && !review.May(by, review.ActKeepMachines, "") {
		return "", MachineToken{}, review.Forbidden(by, review.ActKeepMachines, "")
	}
	if err := f.check(); err != nil {
		return "", MachineToken{}, err
	}
	now := a.now().UTC().Truncate(time.Microsecond)
	t = MachineToken{ID: rand.Text(), Person: f.Machine, Name: strings.TrimSpace(f.Name), Purpose: strings.TrimSpace(f.Purpose), Scopes: review.ScopesOf(f.Scopes),
		CreatedBy: by.Person, CreatedAt: now, ExpiresAt: now.AddDate(0, 0, f.Days)}
	secret = machinePrefix + t.ID + "_" + rand.Text()
	t.Digest = review.SecretDigest(secret)
	if f.Machine != "" {
		known, err := a.store.AccountByPerson(ctx, f.Machine)
		if err != nil || known.Role != review.RoleMachine {
			return "", MachineToken{}, noMachine(f.Machine)
		}
		t.Name = known.Name
		return secret, t, a.done(ctx, MachineTokenMade, known.Login, a.store.AddMachineToken(ctx, by, t))
	}
	t.Person = a.newID()
	account := Account{Person: t.Person, Name: t.Name, Login: "machine-" + strings.ToLower(rand.Text()), Role: review.RoleMachine, Version: 1, CreatedAt: now}
	return secret, t, a.done(ctx, MachineTokenMade, account.Login, a.store.CreateMachine(ctx, by, account, t))
}

func noMachine(id string) error {
	return review.Errorf(review.KindNotFound, "There is no machine %s. Nothing was stored.", id)
}

// MachineTokens lists all tokens, for whoever may give them.
func (a *Accounts) MachineTokens(ctx context.Context, by review.Actor) ([]MachineToken, error) {
	if by.Person != "" && !review.May(by, review.ActKeepMachines, "") {
		return nil, review.Forbidden(by, review.ActKeepMachines, "")
	}
	return a.store.FindMachineTokens(ctx)
}

// RevokeMachineToken ends a token.
func (a *Accounts) RevokeMachineToken(ctx context.Context, by review.Actor, id, reason string) error {
	if by.Person != "" && !review.May(by, review.ActKeepMachines, "") {
		return review.Forbidden(by, review.ActKeepMachines, "")
	}
	if err := checkReason(reason); err != nil {
		return err
	}
	return a.done(ctx, MachineTokenRevoked, id, a.store.RevokeMachineToken(ctx, by, id, reason, a.now()))
}

// usedAgain is how exactly it is told when a token was used last, so that reading takes no write each time.
const usedAgain = time.Minute

// machine is the account of a machine by its token.
func (a *Accounts) machine(ctx context.Context, token string) (Account, error) {
	parts := machineForm.FindStringSubmatch(token)
	if parts == nil {
		return Account{}, notLoggedIn()
	}
	t, account, err := a.store.MachineByToken(ctx, parts[1])
	if review.KindOf(err) == review.KindNotFound {
		return Account{}, notLoggedIn()
	}
	if err != nil {
		return Account{}, err
	}
	now := a.now()
	if subtle.ConstantTimeCompare([]byte(review.SecretDigest(token)), []byte(t.Digest)) != 1 || !now.Before(t.ExpiresAt) || account.Role != review.RoleMachine {
		return Account{}, notLoggedIn()
	}
	if t.LastUsed == nil || now.Sub(*t.LastUsed) >= usedAgain {
		if err := a.store.UsedMachineToken(ctx, t.ID, now); err != nil {
			return Account{}, err
		}
	}
	account.Scopes = t.Scopes
	return account, nil
}

package auth

import (
	"context"
	"crypto/rand"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"revidit/review"
)

// LinkStore keeps links of accounts. Each change is an event of the account, of who is named.
type LinkStore interface {
	// StoreInvitation stores a new invitation; with a letter that brings it, where there is one.
	StoreInvitation(ctx context.Context, by review.Actor, l review.AccountLink, letter *review.Letter) error
	// Invitations are those that can still be followed, the latest first; Invitation is one of them.
	Invitations(ctx context.Context, now time.Time) ([]review.AccountLink, error)
	Invitation(ctx context.Context, id string, now time.Time) (review.AccountLink, error)
	// HandOverLink stores a link of which somebody is shown the token, in place of the one with its id where there is one.
	HandOverLink(ctx context.Context, by review.Actor, l review.AccountLink) error
	TakeBackInvitation(ctx context.Context, by review.Actor, l review.AccountLink, at time.Time) error
	// LinkOf is the link with a digest, while it can be followed.
	LinkOf(ctx context.Context, purpose review.LinkPurpose, digest string, now time.Time) (review.AccountLink, error)
	// AcceptInvitation uses up a link and stores the account that comes of it, with what it is linked with (nil: nothing), or neither. Of
	// two who follow one link at the same time one hears that there is no such link.
	AcceptInvitation(ctx context.Context, l review.AccountLink, a Account, linked *ProviderLogin) error
	// ResetPassword uses up a link, sets the hash and ends all logins and other such links of its person, or does none of it; a letter
	// tells the person.
	ResetPassword(ctx context.Context, l review.AccountLink, hash string, letter review.Letter) error
	// AskForReset stores what somebody has typed where a new password is asked for, with a letter for it. It looks nothing up.
	AskForReset(ctx context.Context, typed string, letter review.Letter) error
}

// InvitationForm is whom a curator invites.
type InvitationForm struct {
	Name    string      `json:"name,omitempty" maxLength:"120" doc:"As the person is called; they may write it otherwise. Empty: they write it"`
	Role    review.Role `json:"role" enum:"member,keeper,reviewer,curator"`
	Address string      `json:"address,omitempty" maxLength:"254" doc:"Where the link is sent, if this club sends mail; empty: it is handed over"`
}

// Invitation is one with its token, where that is to be handed over: it is shown once.
type Invitation struct {
	review.AccountLink
	Token string
}

// Invite makes an invitation.
func (a *Accounts) Invite(ctx context.Context, by review.Actor, form InvitationForm) (Invitation, error) {
	if err := mayKeep(by); err != nil {
		return Invitation{}, err
	}
	form.Name, form.Address = strings.TrimSpace(form.Name), strings.TrimSpace(form.Address)
	var p review.Problems
	if form.Name != "" {
		checkName(&p, form.Name)
	}
	if !form.Role.ForPeople() {
		p.Addf("role", "must be member, keeper, reviewer or curator")
	}
	if form.Address != "" {
		review.CheckAddress(&p, "address", form.Address)
	}
	if err := p.Err(); err != nil {
		return Invitation{}, err
	}
	now := a.moment()
	made := Invitation{AccountLink: review.AccountLink{ID: a.newID(), Purpose: review.LinkInvites, Person: a.newID(), Name: form.Name, Role: form.Role,
		Address: form.Address, By: by.Person, MadeAt: now, ExpiresAt: now.Add(review.InvitationLife)}}
	var letter *review.Letter
	if form.Address != "" && a.mails {
		letter = &review.Letter{ID: a.newID(), Person: made.Person, Kind: review.LetterInvitation, MadeAt: now, NextAt: &now}
	} else {
		made.give()
	}
	return made, a.store.StoreInvitation(ctx, by, made.AccountLink, letter)
}

// give has an invitation bear a new token, which is shown to who keeps accounts.
func (i *Invitation) give() {
	i.Token = rand.Text()
	i.Digest, i.Mailed = review.SecretDigest(i.Token), false
}

func mayKeep(by review.Actor) error {
	if !review.May(by, review.ActKeepAccounts, "") {
		return review.Forbidden(by, review.ActKeepAccounts, "")
	}
	return nil
}

func checkName(p *review.Problems, name string) {
	if name == "" || utf8.RuneCountInString(name) > maxName || !utf8.ValidString(name) || strings.ContainsFunc(name, unicode.IsControl) {
		p.Addf("name", "must be text of 1 to %d letters", maxName)
	}
}

// moment is now as it is stored.
func (a *Accounts) moment() time.Time { return a.now().UTC().Truncate(time.Microsecond) }

// Invitations are those that are open, to who keeps accounts.
func (a *Accounts) Invitations(ctx context.Context, by review.Actor) ([]review.AccountLink, error) {
	if err := mayKeep(by); err != nil {
		return nil, err
	}
	return a.store.Invitations(ctx, a.moment())
}

// RenewInvitation gives an open invitation a new link, good from now on, and ends the former one.
func (a *Accounts) RenewInvitation(ctx context.Context, by review.Actor, id string) (Invitation, error) {
	l, err := a.openInvitation(ctx, by, id)
	if err != nil {
		return Invitation{}, err
	}
	renewed := Invitation{AccountLink: l}
	renewed.ExpiresAt = a.moment().Add(review.InvitationLife)
	renewed.give()
	return renewed, a.store.HandOverLink(ctx, by, renewed.AccountLink)
}

// TakeBackInvitation ends an open invitation.
func (a *Accounts) TakeBackInvitation(ctx context.Context, by review.Actor, id string) error {
	l, err := a.openInvitation(ctx, by, id)
	if err != nil {
		return err
	}
	return a.store.TakeBackInvitation(ctx, by, l, a.moment())
}

func (a *Accounts) openInvitation(ctx context.Context, by review.Actor, id string) (review.AccountLink, error) {
	if err := mayKeep(by); err != nil {
		return review.AccountLink{}, err
	}
	return a.store.Invitation(ctx, id, a.moment())
}

// Link is what a token of a link stands for; badAccountLink where it is none, or no more. clientIP is the address that the look is
// counted under.
func (a *Accounts) Link(ctx context.Context, purpose review.LinkPurpose, token, clientIP string) (review.AccountLink, error) {
	if err := a.count(ctx, a.limits.PerAddress, "link", AddressKey(clientIP)); err != nil {
		return review.AccountLink{}, err
	}
	l, err := a.store.LinkOf(ctx, purpose, review.SecretDigest(token), a.moment())
	if review.KindOf(err) == review.KindNotFound {
		return l, badAccountLink()
	}
	return l, err
}

func badAccountLink() error {
	return review.Errorf(review.KindNotFound, "This link was used already, was taken back, or is too old. Nothing was changed; ask a curator for a new one.")
}

// JoinForm is what somebody who was invited chooses.
type JoinForm struct {
	Name     string `json:"name" minLength:"1" maxLength:"120" doc:"As it is shown, and printed on slips"`
	Login    string `json:"login" minLength:"1" maxLength:"60"`
	Password string `json:"password" minLength:"1" maxLength:"1000"`
}

// Accept makes the account of an invitation and logs its person in.
func (a *Accounts) Accept(ctx context.Context, token string, form JoinForm, from Client) (sessionToken string, err error) {
	l, err := a.Link(ctx, review.LinkInvites, token, from.Address)
	if err != nil {
		return "", err
	}
	account, err := a.prepare(ctx, form.Login, form.Name, l.Role, form.Password)
	if err != nil {
		return "", err
	}
	account.Person = l.Person
	if err := a.done(ctx, AccountMade, account.Login, a.store.AcceptInvitation(ctx, l, account, nil)); err != nil {
		return "", usedUp(err)
	}
	a.tell(account.Login, from.Address, LoggedIn)
	sessionToken, _, err = a.begin(ctx, account, loginType, from)
	return sessionToken, err
}

func usedUp(err error) error {
	if review.KindOf(err) == review.KindNotFound {
		return badAccountLink()
	}
	return err
}

// ResetLimits are how often somebody may ask for another password: from an address, and for what they type there. They are our own
// choice (common practice, no source): nobody's letter box is filled.
var ResetLimits = struct{ PerAddress, PerTyped Limit }{Limit{Burst: 10, Every: time.Minute}, Limit{Burst: 3, Every: 20 * time.Minute}}

// Mails says whether this club sends mail.
func (a *Accounts) Mails() bool { return a.mails }

// AskForReset has a letter with a link sent to the confirmed address of whose login or address was typed, if there is anybody. It does the same
// work whether there is or not: that is looked up when the letter is written. clientIP is the address that the attempt is counted under.
func (a *Accounts) AskForReset(ctx context.Context, typed, clientIP string) error {
	typed = strings.TrimSpace(typed)
	var p review.Problems
	review.CheckText(&p, "login", typed, 1, review.MaxAddress)
	if err := p.Err(); err != nil {
		return err
	}
	if !a.mails {
		return review.Errorf(review.KindConflict, "This club sends no mail, so that no link can be sent. Nothing was changed; ask a curator for a link.")
	}
	if err := a.count(ctx, ResetLimits.PerAddress, "reset from", AddressKey(clientIP)); err != nil {
		return err
	}
	if err := a.count(ctx, ResetLimits.PerTyped, "reset of", strings.ToLower(typed)); err != nil {
		return err
	}
	now := a.moment()
	return a.store.AskForReset(ctx, typed, review.Letter{ID: a.newID(), Kind: review.LetterReset, MadeAt: now, NextAt: &now})
}

// HandOverReset makes a link by which a person sets another password, to be handed over by who keeps accounts.
func (a *Accounts) HandOverReset(ctx context.Context, by review.Actor, person string) (token string, until time.Time, err error) {
	if err := mayKeep(by); err != nil {
		return "", until, err
	}
	account, err := a.store.AccountByPerson(ctx, person)
	if err != nil {
		return "", until, err
	}
	if account.Role == review.RoleMachine {
		return "", until, isMachine(account)
	}
	token, now := rand.Text(), a.moment()
	l := review.AccountLink{ID: a.newID(), Purpose: review.LinkResets, Person: person, Digest: review.SecretDigest(token), By: by.Person,
		MadeAt: now, ExpiresAt: now.Add(review.ResetLife)}
	return token, l.ExpiresAt, a.store.HandOverLink(ctx, by, l)
}

// Reset sets another password by a link and ends all logins.
func (a *Accounts) Reset(ctx context.Context, token, password, clientIP string) error {
	l, err := a.Link(ctx, review.LinkResets, token, clientIP)
	if err != nil {
		return err
	}
	account, err := a.store.AccountByPerson(ctx, l.Person)
	if err != nil {
		return usedUp(err)
	}
	hash, err := a.Hash(ctx, account.Login, password)
	if err != nil {
		return err
	}
	if err := a.done(ctx, PasswordSet, account.Login, a.store.ResetPassword(ctx, l, hash, a.passwordLetter(l.Person))); err != nil {
		return usedUp(err)
	}
	a.tell(account.Login, clientIP, PasswordReset)
	return nil
}

func (a *Accounts) passwordLetter(person string) review.Letter {
	return a.letterTo(person, review.LetterPassword)
}

// letterTo tells a person of what has become of the account.
func (a *Accounts) letterTo(person string, kind review.LetterKind) review.Letter {
	now := a.moment()
	return review.Letter{ID: a.newID(), Person: person, Kind: kind, MadeAt: now, NextAt: &now}
}

// ChangePassword sets another password of who is logged in by a token, who has to know the present one, and ends all other logins.
func (a *Accounts) ChangePassword(ctx context.Context, token, present, password, clientIP string) error {
	account, s, err := a.verify(ctx, token, ownToken)
	if err != nil {
		return err
	}
	if err := a.proves(ctx, account, s, present, clientIP); err != nil {
		return err
	}
	hash, err := a.Hash(ctx, account.Login, password)
	if err != nil {
		return err
	}
	letter := a.passwordLetter(account.Person)
	change := AccountChange{By: account.Actor(), PasswordHash: &hash, EndSessions: true, KeepSession: s.ID}
	if a.mails {
		change.Letter = &letter
	}
	return a.done(ctx, PasswordSet, account.Login, a.store.ChangeAccount(ctx, account.Person, change))
}

// proves asks somebody who is logged in for the password once more, counted as attempts to log in are: whoever finds a browser
// open does not guess there. An account without a password proves itself by a login of the provider a short while ago.
func (a *Accounts) proves(ctx context.Context, account Account, s Session, password, clientIP string) error {
	if account.PasswordHash == "" {
		if !a.fresh(s) {
			return review.Errorf(review.KindConflict, "Your account has no password. Nothing was changed: have your museum's login confirm that it is you, on the page My login, and try again within ten minutes.")
		}
		return nil
	}
	if err := a.takeAttempt(ctx, account.Login, clientIP); err != nil {
		return err
	}
	matches, err := a.matches(ctx, password, account, true)
	if err != nil {
		return err
	}
	if !matches {
		a.tell(account.Login, clientIP, WrongPassword)
		return review.Invalidf("present", "is not your password")
	}
	return nil
}

// count counts an attempt at something, or returns a TooManyError.
func (a *Accounts) count(ctx context.Context, limit Limit, parts ...string) error {
	wait, err := a.store.TakeAttempt(ctx, attemptKey(parts...), limit, a.now())
	if err == nil && wait > 0 {
		err = &TooManyError{Wait: wait}
	}
	return err
}

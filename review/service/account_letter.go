package service

import (
	"context"
	"crypto/rand"
	"slices"
	"strconv"

	"revidit/review"
)

// Reachable is somebody with an account and a confirmed address.
type Reachable struct {
	review.Person
	Login, Address, Language string
}

// AccountLetter is what a letter about accounts tells: of one, or where somebody has asked for another password, of all that were meant.
type AccountLetter struct {
	By string // name of who invites, or has taken a museum's login or second factors off
	// Reason is why, as that person has written it.
	Reason string
	Links  []LetterLink
}

// LetterLink is a link of a letter with what it is for.
type LetterLink struct {
	review.AccountLink
	Login, Token string
}

// mostMeant is how many accounts with one address a letter brings links for, and mostResets how many such links of one account can be
// followed at a time: whoever asks again and again fills nobody's letter box.
const (
	mostMeant  = 5
	mostResets = 3
)

// accountMessage is a letter about an account in words. A link gets its token now and a new one whenever the letter is tried again, so
// that none is stored; each try is a message of its own.
func (s *Service) accountMessage(ctx context.Context, letter review.Letter) (m Message, say bool, err error) {
	d := LetterData{Letter: letter, Account: &AccountLetter{}}
	switch letter.Kind {
	case review.LetterInvitation:
		say, err = s.inviting(ctx, &d)
	case review.LetterReset:
		say, err = s.resetting(ctx, &d)
	default:
		say, err = s.tellingOfAccount(ctx, &d)
	}
	if review.KindOf(err) == review.KindNotFound {
		return m, false, nil // taken back, followed or erased meanwhile
	}
	if err != nil || !say {
		return m, false, err
	}
	m, err = s.write(d)
	m.ID += "-" + strconv.Itoa(letter.Tries)
	return m, true, err
}

func (s *Service) inviting(ctx context.Context, d *LetterData) (say bool, err error) {
	l, err := s.store.InvitationOf(ctx, d.Letter.Person, s.now())
	if err != nil || l.Address == "" {
		return false, err
	}
	names, err := s.names(ctx, []string{l.By})
	if err != nil {
		return false, err
	}
	if d.Language, err = s.store.Language(ctx, l.By); err != nil { // that of the person is not known yet
		return false, err
	}
	d.Account.By, d.Address, d.Actor = names[l.By], l.Address, review.Actor{Name: l.Name, Role: l.Role}
	l.Mailed = true
	return true, s.linked(ctx, d, l, "")
}

// linked adds a link to a letter and stores the digest of its token.
func (s *Service) linked(ctx context.Context, d *LetterData, l review.AccountLink, login string) error {
	token := rand.Text()
	l.Digest = review.SecretDigest(token)
	d.Account.Links = append(d.Account.Links, LetterLink{AccountLink: l, Login: login, Token: token})
	return s.store.MailLink(ctx, l)
}

func (s *Service) resetting(ctx context.Context, d *LetterData) (say bool, err error) {
	typed, err := s.store.ResetRequest(ctx, d.Letter.ID)
	if err != nil {
		return false, err
	}
	meant, err := s.store.Reachable(ctx, typed, mostMeant)
	if err != nil {
		return false, err
	}
	now := s.moment(itself)
	for _, p := range meant {
		n, err := s.store.CountResets(ctx, p.ID, now.Now)
		if err != nil {
			return false, err
		}
		if n >= mostResets || d.Address != "" && d.Address != p.Address {
			continue // a login and the address of somebody else look alike: a letter goes to one address
		}
		d.Address, d.Language, d.Actor = p.Address, p.Language, review.Actor{Person: p.ID, Name: p.Name, Role: p.Role}
		l := review.AccountLink{ID: now.NewID(), Purpose: review.LinkResets, Person: p.ID, By: review.ProgramActor, Mailed: true,
			MadeAt: now.Now, ExpiresAt: now.Now.Add(review.ResetLife)}
		if err := s.linked(ctx, d, l, p.Login); err != nil {
			return false, err
		}
	}
	return len(d.Account.Links) > 0, nil
}

// tellingOfAccount tells a person of what has become of the account.
func (s *Service) tellingOfAccount(ctx context.Context, d *LetterData) (say bool, err error) {
	box, err := s.store.Mailbox(ctx, d.Letter.Person)
	if err != nil || box.ConfirmedAt == nil || box.Address == "" {
		return false, err
	}
	people, err := s.store.People(ctx, []string{d.Letter.Person})
	if err != nil {
		return false, err
	}
	p := people[d.Letter.Person]
	d.Address, d.Actor = box.Address, review.Actor{Person: p.ID, Name: p.Name, Role: p.Role}
	if d.Language, err = s.store.Language(ctx, d.Letter.Person); err != nil {
		return false, err
	}
	switch d.Letter.Kind {
	case review.LetterProviderTakenOff, review.LetterFactorsTakenOff:
		err = s.takenOffBy(ctx, d)
	}
	return p.Name != "", err
}

// reasonFor is why somebody else has done what a letter tells; empty: the change is no such act.
func reasonFor(kind review.LetterKind, c review.Change) string {
	switch c := c.(type) {
	case *review.ProviderUnlinked:
		if kind == review.LetterProviderTakenOff {
			return c.Reason
		}
	case *review.FactorRemoved:
		if kind == review.LetterFactorsTakenOff {
			return c.Reason
		}
	}
	return ""
}

// takenOffBy adds to a letter who has done what it tells, and why.
func (s *Service) takenOffBy(ctx context.Context, d *LetterData) error {
	events, err := s.store.Events(ctx, review.AccountStream(d.Letter.Person))
	if err != nil {
		return err
	}
	for _, e := range slices.Backward(events) {
		reason := reasonFor(d.Letter.Kind, e.Change)
		if reason == "" {
			continue
		}
		names, err := s.names(ctx, []string{e.Actor})
		if err != nil {
			return err
		}
		d.Account.By, d.Account.Reason = names[e.Actor], reason
		return nil
	}
	return nil
}

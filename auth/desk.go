package auth

import (
	"context"

	"revidit/review"
)

// What a curator does with somebody else's account. Who keeps the server does the same by login from the command line.

// AccountOf is the account of a person, to who keeps accounts.
func (a *Accounts) AccountOf(ctx context.Context, by review.Actor, person string) (Account, error) {
	if err := mayKeep(by); err != nil {
		return Account{}, err
	}
	return a.store.AccountByPerson(ctx, person)
}

// AccountsOf are the accounts of some persons, to who keeps accounts.
func (a *Accounts) AccountsOf(ctx context.Context, by review.Actor, persons []string) ([]Account, error) {
	if err := mayKeep(by); err != nil {
		return nil, err
	}
	return a.store.AccountsOf(ctx, persons)
}

// Suspend ends all logins of a person and refuses new ones, and Readmit allows them again, with a reason. Nobody suspends themselves.
func (a *Accounts) Suspend(ctx context.Context, by review.Actor, person, reason string) error {
	if err := mayChange(by, person); err != nil {
		return err
	}
	return a.changeBy(ctx, person, AccountDisabled, AccountChange{By: by, Disabled: new(true), Reason: reason, EndSessions: true})
}

func (a *Accounts) Readmit(ctx context.Context, by review.Actor, person, reason string) error {
	return a.changeBy(ctx, person, AccountEnabled, AccountChange{By: by, Disabled: new(false), Reason: reason})
}

// ChangeRole gives a person another role, with a reason. Nobody changes their own.
func (a *Accounts) ChangeRole(ctx context.Context, by review.Actor, person string, role review.Role, reason string) error {
	if err := mayChange(by, person); err != nil {
		return err
	}
	if !role.ForPeople() {
		return review.Invalidf("role", "must be member, keeper, reviewer or curator")
	}
	return a.changeBy(ctx, person, RoleChanged, AccountChange{By: by, Role: &role, Reason: reason})
}

// ErasePerson is Erase by a curator, who has to write the login of the account: it cannot be undone.
func (a *Accounts) ErasePerson(ctx context.Context, by review.Actor, person, login, reason string) error {
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
	if written, _ := prepareLogin(login); written != account.Login {
		return review.Invalidf("login", "is not the login of this person; write it to say that you mean this one")
	}
	return a.done(ctx, PersonErased, person, a.store.ErasePerson(ctx, by, person, reason))
}

// mayChange says why somebody may not change the account of a person: nobody does that with their own.
func mayChange(by review.Actor, person string) error {
	switch {
	case review.May(by, review.ActChangeAccount, person):
		return nil
	case by.Person == person && review.Ever(by, review.ActChangeAccount):
		return ownAccount()
	}
	return review.Forbidden(by, review.ActChangeAccount, person)
}

func ownAccount() error {
	return review.Errorf(review.KindForbidden, "This is your own account. Nothing was changed; another curator, or who keeps the server, can do that.")
}

// changeBy is a change that somebody makes of another person's account, with a reason.
func (a *Accounts) changeBy(ctx context.Context, person string, what Happening, c AccountChange) error {
	if err := mayKeep(c.By); err != nil {
		return err
	}
	if err := checkReason(c.Reason); err != nil {
		return err
	}
	account, err := a.store.AccountByPerson(ctx, person)
	if err != nil {
		return err
	}
	return a.apply(ctx, account, what, c)
}

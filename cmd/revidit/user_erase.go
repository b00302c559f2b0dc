package main

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"revidit/auth"
	"revidit/models"
	"revidit/review"
	"revidit/review/service"
)

type userErase struct {
	placeFlags
	Login  string `arg:"" help:"Login of the person."`
	Reason string `help:"Why, for the history; without the person's name, since it is kept for ever. Needed with --yes." placeholder:"TEXT"`
	Yes    bool   `help:"Do it. Without it nothing is erased, and what would be is said."`
}

// Validate checks that there is a reason before anything is erased.
func (c *userErase) Validate() error {
	if !c.Yes {
		return nil
	}
	return reasonFlag{c.Reason}.Validate()
}

// Run erases the person, or says what that would do.
func (c *userErase) Run(ctx context.Context, io console) error {
	return c.withDB(ctx, func(db *models.DB) error {
		house, err := newHouse(ctx, db, c.location(), nil, service.Options{})
		if err != nil {
			return err
		}
		account, err := house.accounts.Named(ctx, c.Login)
		if err != nil {
			return err
		}
		mind, err := mindBefore(ctx, db, account)
		if err != nil {
			return err
		}
		fmt.Fprintf(io.out, eraseWords, account.Name, account.Login, account.Person)
		for _, words := range mind {
			fmt.Fprintf(io.out, "Mind: %s\n", words)
		}
		if !c.Yes {
			return errors.New("nothing was erased, since it cannot be undone: run it again with --yes and a --reason")
		}
		end, err := c.watch(house.accounts)
		if err != nil {
			return err
		}
		if err := errors.Join(house.accounts.Erase(ctx, c.Login, c.Reason), end()); err != nil {
			return err
		}
		fmt.Fprintln(io.out, "Erased. Copies that were made before, such as backups, still hold it.")
		return nil
	})
}

// eraseWords say what goes and what stays, of the name, login and id of a person.
const eraseWords = `Erased for good: the name (%s), the login (%s), the password, all logins that are under way, the address for
mail, news, saved searches, and drafts that were not submitted.
What stays: everything this person has done, under the id %s, which by itself tells nothing: submissions, observations, verdicts,
opinions, photos and label data. It is shown as by "(name erased)". Words that anybody has typed stay as they are, also where they
name this person, such as the collector on a label; label data can be corrected, notes and reasons cannot.
Slips of paper under specimens keep the name. Proofs of the history hold as before.
`

// mindBefore is what a keeper should know before a person is erased.
func mindBefore(ctx context.Context, db *models.DB, account auth.Account) ([]string, error) {
	var mind []string
	curators, err := db.Curators(ctx)
	if err != nil {
		return nil, err
	}
	if len(curators) == 1 && curators[0] == account.Person {
		mind = append(mind, "this is the only curator. Until you add another one (revidit user add, revidit user role) nobody can set the policy or change the tables.")
	}
	policy, err := db.Policy(ctx)
	if err != nil {
		return nil, err
	}
	if families := namedFor(policy, account.Person); len(families) > 0 {
		mind = append(mind, fmt.Sprintf("the policy names this person for %s. A curator should name somebody else there.", strings.Join(families, ", ")))
	}
	return mind, nil
}

// namedFor are the families for which a policy names a person.
func namedFor(policy review.Policy, person string) []string {
	families := slices.Sorted(maps.Keys(policy.Experts))
	return slices.DeleteFunc(families, func(f string) bool { return !policy.Expert(f, person) })
}

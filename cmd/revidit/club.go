package main

import (
	"context"
	"fmt"
	"strings"

	"revidit/models"
	"revidit/review"
	"revidit/review/service"
)

// clubFlags say which club, with which tables.
type clubFlags struct {
	placeFlags
	tablesFlag
}

// club is the service of a club with the tables that it knows.
type club struct {
	*house
	library *service.Library
}

func (f clubFlags) with(ctx context.Context, do func(club) error) error {
	library, err := f.library()
	if err != nil {
		return err
	}
	return f.withDB(ctx, func(db *models.DB) error {
		house, err := newHouse(ctx, db, f.location(), library, service.Options{})
		if err != nil {
			return err
		}
		return do(club{house, library})
	})
}

// curator is who acts under a login, who must be one who may change the tables.
func (c club) curator(ctx context.Context, login string) (review.Actor, error) {
	account, err := c.db.AccountByLogin(ctx, strings.ToLower(strings.TrimSpace(login)))
	if review.KindOf(err) == review.KindNotFound {
		return review.Actor{}, fmt.Errorf("there is no login %q; nothing was changed. Run revidit user list to see all", login)
	}
	if err != nil {
		return review.Actor{}, err
	}
	if account.Disabled {
		return review.Actor{}, fmt.Errorf("the account %s is disabled; nothing was changed", account.Login)
	}
	actor := review.Actor{Person: account.Person, Name: account.Name, Role: account.Role}
	if !review.May(actor, review.ActEditTables, "") {
		return review.Actor{}, fmt.Errorf("%s is a %s, and only curators change the tables; nothing was changed", account.Login, account.Role)
	}
	return actor, nil
}

package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"revidit/auth"
	"revidit/models"
	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

// linkFlags say where links lead.
type linkFlags struct {
	URL string `help:"Where the pages are found: the link leads there." default:"http://127.0.0.1:8080" env:"REVIDIT_URL" placeholder:"URL"`
}

type userFirst struct {
	placeFlags
	linkFlags
	Name string `arg:"" optional:"" help:"Name of the person; they may write it otherwise."`
}

// Run makes an invitation of a curator, as long as there is none. Asked again it makes another link and ends the former one.
func (c *userFirst) Run(ctx context.Context, io console) error {
	return c.withDB(ctx, func(db *models.DB) error {
		curators, err := db.Curators(ctx)
		if err != nil {
			return err
		}
		if len(curators) > 0 {
			return errors.New("there is a curator already, who can invite others; nothing was made. Use revidit user invite --role curator where nobody of them can log in")
		}
		return c.invite(ctx, db, c.location(), io, auth.InvitationForm{Name: c.Name, Role: review.RoleCurator}, true)
	})
}

type userInvite struct {
	placeFlags
	linkFlags
	Name string `arg:"" optional:"" help:"Name of the person; they may write it otherwise."`
	Role string `enum:"member,keeper,reviewer,curator" default:"member" help:"member, keeper, reviewer or curator."`
}

// Run makes an invitation and prints its link.
func (c *userInvite) Run(ctx context.Context, io console) error {
	return c.withDB(ctx, func(db *models.DB) error {
		return c.invite(ctx, db, c.location(), io, auth.InvitationForm{Name: c.Name, Role: review.Role(c.Role)}, false)
	})
}

// invite prints the link of an invitation. Where it stands alone those that the program has made before are taken back.
func (f linkFlags) invite(ctx context.Context, db *models.DB, at location, io console, form auth.InvitationForm, alone bool) error {
	house, err := newHouse(ctx, db, at, nil, service.Options{})
	if err != nil {
		return err
	}
	byProgram := review.Actor{Person: review.ProgramActor, Role: review.RoleCurator}
	former, err := house.accounts.Invitations(ctx, byProgram)
	if err != nil {
		return err
	}
	for _, l := range former {
		if alone && l.By == review.ProgramActor && l.Role == form.Role {
			if err := house.accounts.TakeBackInvitation(ctx, byProgram, l.ID); err != nil {
				return err
			}
		}
	}
	made, err := house.accounts.Invite(ctx, byProgram, form)
	if err != nil {
		return err
	}
	fmt.Fprintf(io.out, "Hand this link over; it works once, until %s, while revidit serve runs:\n%s%s%s\n", made.ExpiresAt.Format("2006-01-02 15:04 MST"),
		strings.TrimSuffix(f.URL, "/"), pages.JoinPath, made.Token)
	return nil
}

package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"revidit/auth"
	"revidit/review"
)

type machineCommand struct {
	Give   machineGive   `cmd:"" help:"Give a token to a machine, a program that acts for itself; the token is printed once."`
	List   machineList   `cmd:"" help:"List tokens of machines."`
	Revoke machineRevoke `cmd:"" help:"End a token of a machine."`
}

type machineGive struct {
	placeFlags
	Name    string   `help:"Name of a new machine, under which its acts are told." placeholder:"TEXT"`
	Machine string   `help:"Id of one that is there already." placeholder:"ID"`
	Purpose string   `help:"What it is for; kept in the history for ever." required:"" placeholder:"TEXT"`
	Scopes  []string `help:"What it may do: read, submit, export, print." required:""`
	Days    int      `help:"How long the token is good, 1 to 365." default:"90" placeholder:"N"`
}

// Run gives the token.
func (c *machineGive) Run(ctx context.Context, io console) error {
	return c.with(ctx, func(accounts *auth.Accounts) error {
		form := auth.MachineForm{Machine: c.Machine, Name: c.Name, Purpose: c.Purpose, Days: c.Days}
		for _, s := range c.Scopes {
			form.Scopes = append(form.Scopes, review.Scope(s))
		}
		secret, token, err := accounts.GiveMachineToken(ctx, review.Actor{}, form)
		if err != nil {
			return err
		}
		fmt.Fprintf(io.err, "The token %s of %s (%s) is good until %s. It is shown this once:\n", token.ID, token.Name, token.Person, token.ExpiresAt.Format(time.RFC3339))
		fmt.Fprintln(io.out, secret)
		return nil
	})
}

type machineList struct{ placeFlags }

// Run lists the tokens.
func (c *machineList) Run(ctx context.Context, io console) error {
	return c.with(ctx, func(accounts *auth.Accounts) error {
		tokens, err := accounts.MachineTokens(ctx, review.Actor{})
		for _, t := range tokens {
			used, stands := "never used", "good until "+t.ExpiresAt.Format(time.RFC3339)
			if t.LastUsed != nil {
				used = "used " + t.LastUsed.Format(time.RFC3339)
			}
			if t.RevokedAt != nil {
				stands = "revoked " + t.RevokedAt.Format(time.RFC3339)
			}
			fmt.Fprintf(io.out, "%s  %s (%s)  %s  %s, %s  %s\n", t.ID, t.Name, t.Person, t.Scopes, stands, used, strings.ReplaceAll(t.Purpose, "\n", " "))
		}
		return err
	})
}

type machineRevoke struct {
	placeFlags
	reasonFlag
	ID string `arg:"" help:"Id of the token, as revidit machine list tells it."`
}

// Run ends the token.
func (c *machineRevoke) Run(ctx context.Context, _ console) error {
	return c.with(ctx, func(accounts *auth.Accounts) error {
		return accounts.RevokeMachineToken(ctx, review.Actor{}, c.ID, c.Reason)
	})
}

package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"strings"

	"revidit/auth"
	"revidit/models"
	"revidit/review"
	"revidit/review/service"
)

type userCommand struct {
	Add      userAdd      `cmd:"" help:"Add a person with a login. The password is read from standard input."`
	First    userFirst    `cmd:"" help:"Make a link by which the first curator chooses login and password."`
	Invite   userInvite   `cmd:"" help:"Invite somebody: they choose login and password by a link."`
	List     userList     `cmd:"" help:"List logins, names and roles."`
	Role     userRole     `cmd:"" help:"Change the role of a login."`
	Families userFamilies `cmd:"" help:"Name a reviewer for some families, or, without any, for all again."`
	Password userPassword `cmd:"" help:"Set a new password, read from standard input; ends all logins."`
	Disable  userDisable  `cmd:"" help:"End all logins of an account and refuse new ones."`
	Enable   userEnable   `cmd:"" help:"Let a disabled account log in again."`
	Erase    userErase    `cmd:"" help:"Erase a person's name, login and password for good; what they have done stays."`
}

// reasonFlag is why an account is changed, for its history.
type reasonFlag struct {
	Reason string `help:"Why, for the history; without the person's name, since it is kept for ever." required:"" placeholder:"TEXT"`
}

// Validate bounds it.
func (f reasonFlag) Validate() error {
	var p review.Problems
	review.CheckText(&p, "reason", f.Reason, 1, review.MaxNote)
	return p.Err()
}

type userAdd struct {
	placeFlags
	Login string `arg:"" help:"Login, lower case."`
	Name  string `arg:"" help:"Name as it is shown and printed on slips."`
	Role  string `enum:"member,keeper,reviewer,curator" default:"member" help:"member, keeper, reviewer or curator."`
}

// Run adds the account.
func (c *userAdd) Run(ctx context.Context, io console) error {
	return c.with(ctx, func(accounts *auth.Accounts) error {
		password, err := readPassword(io)
		if err != nil {
			return err
		}
		if _, err := accounts.Create(ctx, c.Login, c.Name, review.Role(c.Role), password); err != nil {
			return err
		}
		fmt.Fprintf(io.out, "%s can log in as %s (%s).\n", c.Name, c.Login, c.Role)
		return nil
	})
}

type userList struct{ placeFlags }

// Run lists the accounts.
func (c *userList) Run(ctx context.Context, io console) error {
	return c.withDB(ctx, func(db *models.DB) error {
		accounts, err := db.FindAccounts(ctx)
		for _, a := range accounts {
			state := ""
			if a.Disabled {
				state = "disabled"
			}
			fmt.Fprintf(io.out, "%-16s %-9s %s %s%s\n", a.Login, a.Role, a.Name, state, a.Families)
		}
		return err
	})
}

type userRole struct {
	placeFlags
	reasonFlag
	Login string `arg:""`
	Role  string `arg:"" enum:"member,keeper,reviewer,curator"`
}

// Run changes the role.
func (c *userRole) Run(ctx context.Context, io console) error {
	return c.with(ctx, func(accounts *auth.Accounts) error {
		if err := accounts.SetRole(ctx, c.Login, review.Role(c.Role), c.Reason); err != nil {
			return err
		}
		fmt.Fprintf(io.out, "%s is now a %s.\n", c.Login, c.Role)
		return nil
	})
}

type userFamilies struct {
	clubFlags
	reasonFlag
	Login    string   `arg:""`
	Families []string `arg:"" optional:"" help:"Families as the tables have them; none: all."`
}

// Run names the reviewer for the families.
func (c *userFamilies) Run(ctx context.Context, io console) error {
	return c.clubFlags.with(ctx, func(club club) error {
		account, err := club.accounts.Named(ctx, c.Login)
		if err != nil {
			return err
		}
		by := review.Actor{Person: review.ProgramActor, Name: service.ProgramName, Role: review.RoleCurator}
		if err := club.service.CheckFamilies(ctx, by, c.Families); err != nil {
			return err
		}
		if err := club.accounts.SetFamilies(ctx, review.Actor{}, account.Person, c.Families, c.Reason); err != nil {
			return err
		}
		if len(c.Families) == 0 {
			fmt.Fprintf(io.out, "%s reviews all families.\n", c.Login)
			return nil
		}
		fmt.Fprintf(io.out, "%s reviews %s, and nothing else.\n", c.Login, strings.Join(c.Families, ", "))
		return nil
	})
}

type userPassword struct {
	placeFlags
	Login string `arg:""`
}

// Run sets the password.
func (c *userPassword) Run(ctx context.Context, io console) error {
	return c.with(ctx, func(accounts *auth.Accounts) error {
		password, err := readPassword(io)
		if err != nil {
			return err
		}
		return accounts.SetPassword(ctx, c.Login, password)
	})
}

type userDisable struct {
	placeFlags
	reasonFlag
	Login string `arg:""`
}

// Run disables the account.
func (c *userDisable) Run(ctx context.Context, _ console) error {
	return c.with(ctx, func(accounts *auth.Accounts) error {
		return accounts.Disable(ctx, c.Login, c.Reason)
	})
}

type userEnable struct {
	placeFlags
	reasonFlag
	Login string `arg:""`
}

// Run lets the account log in again.
func (c *userEnable) Run(ctx context.Context, io console) error {
	return c.with(ctx, func(accounts *auth.Accounts) error {
		if err := accounts.Enable(ctx, c.Login, c.Reason); err != nil {
			return err
		}
		fmt.Fprintf(io.out, "%s can log in again.\n", c.Login)
		return nil
	})
}

func (f placeFlags) withDB(ctx context.Context, do func(*models.DB) error) error {
	db, err := f.open(ctx)
	if err != nil {
		return err
	}
	defer db.Close()
	if err := db.CheckSchema(ctx); err != nil {
		return err
	}
	return do(db)
}

func (f placeFlags) with(ctx context.Context, do func(*auth.Accounts) error) error {
	return f.withDB(ctx, func(db *models.DB) error {
		house, err := newHouse(ctx, db, f.location(), nil, service.Options{})
		if err != nil {
			return err
		}
		end, err := f.watch(house.accounts)
		if err != nil {
			return err
		}
		return errors.Join(do(house.accounts), end())
	})
}

// readPassword takes the first line of standard input, so that no password stands in a process list.
func readPassword(io console) (string, error) {
	fmt.Fprintln(io.err, "Password (one line on standard input):")
	line, err := bufio.NewReader(io.in).ReadString('\n')
	if line == "" && err != nil {
		return "", fmt.Errorf("no password on standard input; nothing was changed")
	}
	return strings.TrimRight(line, "\r\n"), nil
}

package main

import (
	"context"
	"fmt"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"time"

	"revidit/auth"
	"revidit/cmd/revidit/demo"
	"revidit/models"
	"revidit/review"
	"revidit/review/photo/apart"
	"revidit/review/service"
	"revidit/web"
	"revidit/web/mail"
	"revidit/web/pages"
)

type demoCommand struct {
	tablesFlag
	Addr string `help:"Address to listen on." default:"127.0.0.1:8080" env:"REVIDIT_ADDR"`
	Data string `help:"Folder to keep the made-up club in; empty: a temporary one, removed at the end." env:"REVIDIT_DEMO_DATA" placeholder:"DIR"`
}

// Run fills a data folder with the made-up club, unless it has one already, and serves it.
func (c *demoCommand) Run(ctx context.Context, io console) error {
	library, err := c.library()
	if err != nil {
		return err
	}
	listener, err := listen(c.Addr) // first: to draw takes a while, and would be in vain
	if err != nil {
		return err
	}
	defer listener.Close()
	data, cleanUp, err := c.folder()
	if err != nil {
		return err
	}
	defer cleanUp()
	db, err := placeFlags{Data: data}.create(ctx)
	if err != nil {
		return err
	}
	defer db.Close()
	if err := db.Migrate(ctx); err != nil {
		return err
	}
	if err := fillOnce(ctx, io, db, data, library, demo.PictureSize); err != nil {
		return err
	}
	log := slog.New(slog.NewTextHandler(io.err, &slog.HandlerOptions{Level: slog.LevelWarn}))
	letters := mail.Folder{Dir: filepath.Join(data, lettersFolder),
		Site: mail.Site{URL: "http://" + shown(listener.Addr().String()), From: "revidit@demo.example", Books: booksOf(library)}}
	house, err := newHouseWith(ctx, db, inFolder(data), library, service.Options{Log: log, Post: &service.Post{Write: letters.Write, Send: letters.Send}}, auth.Options{Cheap: cheapPasswords, Mails: true, Log: log, PublicURL: atLocalhost(listener.Addr())})
	if err != nil {
		return err
	}
	return whileWorking(ctx, db, house.service, log, func(work func()) error {
		return house.serve(ctx, listener, web.Config{Log: log, Invented: invented()}, func(address string) {
			c.welcome(io, data, address)
			work()
		})
	})
}

// atLocalhost is where a browser on the same machine finds an address by name: a passkey is bound to one, and numbers are none.
func atLocalhost(at net.Addr) string {
	_, port, err := net.SplitHostPort(at.String())
	if err != nil {
		return ""
	}
	return "http://localhost:" + port
}

// invented are the people of the made-up club as its login page offers them.
func invented() (offered []pages.InventedLogin) {
	for _, l := range demo.Logins() {
		offered = append(offered, pages.InventedLogin{Login: l.Login, Password: demo.Password, Name: l.Name, Role: review.Role(l.Role)})
	}
	return offered
}

func (c *demoCommand) folder() (data string, cleanUp func(), err error) {
	if c.Data != "" {
		return c.Data, func() {}, nil
	}
	data, err = os.MkdirTemp("", "revidit-demo-")
	return data, func() { os.RemoveAll(data) }, err
}

// lettersFolder is where the demo puts letters in place of sending them.
const lettersFolder = "letters"

// filledMark is written when the club is whole, so that a demo that was cut off is not taken for one.
const filledMark = "demo-is-filled"

// fillOnce makes the club with pictures of a size, unless it is there.
func fillOnce(ctx context.Context, io console, db *models.DB, data string, library *service.Library, pictures demo.Size) error {
	mark := filepath.Join(data, filledMark)
	if _, err := os.Stat(mark); err == nil {
		return nil
	}
	accounts, err := db.FindAccounts(ctx)
	if err != nil {
		return err
	}
	if len(accounts) > 0 {
		return fmt.Errorf("the folder %s holds a club that is not a finished demo; nothing was changed. Name an empty folder with --data", data)
	}
	today := time.Now().UTC()
	clock := demo.NewClock(demo.Start(today))
	house, err := newHouse(ctx, db, inFolder(data), library, service.Options{Now: clock.Now, Seed: demo.Seeds(), NewID: demo.IDs(), Photos: apart.Here{}})
	if err != nil {
		return err
	}
	progress := newProgress(io, "Drawing and submitting the specimens of a made-up club")
	club := demo.Club{Service: house.service, Accounts: house.accounts, Clock: clock, Progress: progress, Size: pictures}
	if err := club.Fill(ctx, today); err != nil {
		return err
	}
	return os.WriteFile(mark, []byte("The made-up club is complete.\n"), 0o600)
}

func (c *demoCommand) welcome(io console, data, address string) {
	fmt.Fprintf(io.out, "\nA made-up club with invented people, places and specimens, in %s\n\n", data)
	for _, l := range demo.Logins() {
		fmt.Fprintf(io.out, "  %-9s  %-18s  login %-8s  password %s\n", l.Role, l.Name, l.Login, demo.Password)
	}
	fmt.Fprintf(io.out, "\nNobody is sent anything: letters are files in %s\n", filepath.Join(data, lettersFolder))
	if host, _, err := net.SplitHostPort(c.Addr); err == nil && host != "localhost" && !net.ParseIP(host).IsLoopback() {
		fmt.Fprintln(io.out, "\nThis address can be reached from other machines, and the passwords are in the documentation: for a trial only.")
	}
	fmt.Fprintf(io.out, "\nlistening on http://%s\nStop it with Ctrl-C.\n", address)
}

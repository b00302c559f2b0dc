package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"

	"revidit/auth"
	"revidit/models"
	"revidit/models/blob"
	"revidit/review/service"
	"revidit/web"
)

// stopTime is how long requests in flight may go on when the server is told to stop.
const stopTime = 20 * time.Second

// placeFlags say where a club's data are.
type placeFlags struct {
	Data     string `help:"Folder of the photos, the key and (without --database) the SQLite file; only migrate makes it." default:"revidit-data" env:"REVIDIT_DATA" placeholder:"DIR"`
	Database string `help:"postgres:// URL; empty: an SQLite file in the data folder." env:"REVIDIT_DATABASE" placeholder:"URL"`
}

func (f placeFlags) database() string {
	if f.Database != "" {
		return f.Database
	}
	return filepath.Join(f.Data, "revidit.sqlite")
}

// create opens the database, making the data folder and an SQLite file where they are missing.
func (f placeFlags) create(ctx context.Context) (*models.DB, error) {
	if err := os.MkdirAll(f.Data, 0o700); err != nil {
		return nil, fmt.Errorf("the data folder cannot be made: %w", err)
	}
	return models.Open(ctx, f.database())
}

// open opens the database of a club that is there: whoever mistypes its place gets no empty club in another one.
func (f placeFlags) open(ctx context.Context) (*models.DB, error) {
	places := []string{f.Data}
	if !models.IsPostgres(f.database()) {
		places = append(places, f.database())
	}
	for _, place := range places {
		_, err := os.Stat(place)
		if errors.Is(err, os.ErrNotExist) {
			return nil, fmt.Errorf("there is no club in %s: %s is missing. Nothing was made; correct --data, or make a new club with revidit migrate --data %s",
				f.Data, place, f.Data)
		}
		if err != nil {
			return nil, fmt.Errorf("look for the club in %s: %w", f.Data, err)
		}
	}
	return models.Open(ctx, f.database())
}

type migrateCommand struct{ placeFlags }

// Run brings the database to the schema of this program.
func (c *migrateCommand) Run(ctx context.Context, io console) error {
	db, err := c.create(ctx)
	if err != nil {
		return err
	}
	defer db.Close()
	if err := db.Migrate(ctx); err != nil {
		return err
	}
	fmt.Fprintln(io.out, "The schema is up to date.")
	return nil
}

type serveCommand struct {
	placeFlags
	tablesFlag
	Addr     string   `help:"Address to listen on." default:"127.0.0.1:8080" env:"REVIDIT_ADDR"`
	Insecure bool     `help:"Let browsers log in over plain HTTP (for a trial on one machine)." env:"REVIDIT_INSECURE"`
	Proxies  []string `help:"Addresses or networks of proxies whose X-Forwarded-For and X-Forwarded-Proto are believed." env:"REVIDIT_PROXIES"`
	Origins  []string `help:"Further origins (https://…) from which browsers may change things." env:"REVIDIT_ORIGINS"`
}

// Run serves until the context ends. It refuses a schema that is not this program's.
func (c *serveCommand) Run(ctx context.Context, io console) error {
	library, err := c.library()
	if err != nil {
		return err
	}
	db, err := c.open(ctx)
	if err != nil {
		return err
	}
	defer db.Close()
	if err := db.CheckSchema(ctx); err != nil {
		return err
	}
	listener, err := listen(c.Addr)
	if err != nil {
		return err
	}
	defer listener.Close()
	log := slog.New(slog.NewTextHandler(io.err, nil))
	house, err := newHouse(db, c.Data, library, service.Options{})
	if err != nil {
		return err
	}
	config := web.Config{Secure: !c.Insecure, Log: log, TrustedProxies: c.Proxies, Origins: c.Origins}
	return whileWorking(ctx, db, house.service, log, func() error {
		return house.serve(ctx, listener, config, func(address string) { fmt.Fprintf(io.out, "listening on http://%s\n", address) })
	})
}

// house is the wired service of one data folder.
type house struct {
	db       *models.DB
	blobs    *blob.Dir
	accounts *auth.Accounts
	service  *service.Service
}

// newHouse wires it. With o.NewID people get ids of that kind, too.
func newHouse(db *models.DB, data string, library *service.Library, o service.Options) (*house, error) {
	blobs, err := blob.OpenDir(filepath.Join(data, "photos"))
	if err != nil {
		return nil, err
	}
	ring, err := auth.LoadOrCreateKeys(filepath.Join(data, "token.key"))
	if err != nil {
		return nil, err
	}
	if o.Arriving == "" {
		o.Arriving = filepath.Join(data, "arriving")
	}
	o.Keys = ring.Keys
	accounts, err := auth.NewAccounts(db, ring.Keys[0], auth.Options{NewID: o.NewID})
	if err != nil {
		return nil, err
	}
	return &house{db: db, blobs: blobs, accounts: accounts, service: service.NewService(db, blobs, library, o)}, nil
}

// listen takes an address, before anything else that takes time or leaves something behind.
func listen(addr string) (net.Listener, error) {
	listener, err := net.Listen("tcp", addr)
	if err != nil {
		return nil, fmt.Errorf("cannot listen: %w. Choose another address with --addr", err)
	}
	return listener, nil
}

// serve answers at the listener until ctx ends, then lets requests in flight finish. ready is told the address. The
// listener is closed in the end.
func (h *house) serve(ctx context.Context, listener net.Listener, config web.Config, ready func(address string)) error {
	config.Service, config.Accounts, config.Version = h.service, h.accounts, version
	server, err := web.New(config)
	if err != nil {
		return err
	}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	ready(shown(listener.Addr().String()))
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	stopping, cancel := context.WithTimeout(context.Background(), stopTime)
	defer cancel()
	if err := server.Shutdown(stopping); err != nil {
		return fmt.Errorf("stopped with requests in flight: %w", err)
	}
	if err := <-ended; !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// shown is an address that a browser on the same machine can open.
func shown(address string) string {
	host, port, err := net.SplitHostPort(address)
	if err != nil {
		return address
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		host = "localhost"
	}
	return strings.TrimSpace(net.JoinHostPort(host, port))
}

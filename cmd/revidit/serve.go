package main

import (
	"cmp"
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
	"revidit/review/proof"
	"revidit/review/service"
	"revidit/web"
)

// stopTime is how long requests in flight may go on when the server is told to stop.
const stopTime = 20 * time.Second

// placeFlags say where a club's data are.
type placeFlags struct {
	Data     string `help:"Folder of the photos, the key and (without --database) the SQLite file; only migrate makes it." default:"revidit-data" env:"REVIDIT_DATA" placeholder:"DIR"`
	Database string `help:"postgres:// URL; empty: an SQLite file in the data folder." env:"REVIDIT_DATABASE" placeholder:"URL"`
	KeyFile  string `help:"File of the keys, to keep them apart from the data; empty: token.key in the data folder." env:"REVIDIT_KEY_FILE" placeholder:"FILE"`
	Private  bool   `name:"private-line" help:"Nobody else is on the line to the PostgreSQL host, so that its certificate need not be checked." env:"REVIDIT_PRIVATE_LINE"`
	securityFlag
}

// location is where the photos and the keys of a club are.
type location struct{ data, keys string }

// inFolder is a location with everything in the data folder.
func inFolder(data string) location { return location{data, keyFile(data)} }

func (f placeFlags) location() location {
	at := inFolder(f.Data)
	at.keys = cmp.Or(f.KeyFile, at.keys)
	return at
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
	return f.connect(ctx)
}

// connect opens the database, unless others could read along, or answer in its place, on the line there.
func (f placeFlags) connect(ctx context.Context) (*models.DB, error) {
	if !f.Private {
		if err := models.CheckLine(f.database()); err != nil {
			return nil, err
		}
	}
	return models.Open(ctx, f.database())
}

// open opens the database of a club that is there: whoever mistypes its place gets no empty club in another one.
func (f placeFlags) open(ctx context.Context) (*models.DB, error) {
	if err := models.CheckURL(f.database()); err != nil {
		return nil, err
	}
	places := []string{f.Data}
	if !models.IsPostgres(f.database()) {
		places = append(places, f.database())
	}
	for _, place := range places {
		_, err := os.Stat(place)
		if errors.Is(err, os.ErrNotExist) {
			return nil, fmt.Errorf("there is no club in %s: %s is missing. Nothing was made; correct --data or --database (a club on PostgreSQL needs it each time), "+
				"or make a new club with revidit migrate --data %s", f.Data, place, f.Data)
		}
		if err != nil {
			return nil, fmt.Errorf("look for the club in %s: %w", f.Data, err)
		}
	}
	return f.connect(ctx)
}

type migrateCommand struct {
	placeFlags
	Adopt bool `help:"Say that database, photo folder and key file belong together from now on, whatever they say themselves; a missing key is made anew, which ends all logins."`
}

// Run brings the database to the schema of this program. It makes nothing beside photos or a key that are of another club.
func (c *migrateCommand) Run(ctx context.Context, io console) error {
	if err := c.checkNew(ctx); err != nil {
		return err
	}
	db, err := c.create(ctx)
	if err != nil {
		return err
	}
	defer db.Close()
	if err := db.Migrate(ctx); err != nil {
		return err
	}
	photos, _, err := openPlaces(ctx, db, c.location(), c.Adopt)
	if err != nil {
		return err
	}
	if err := photos.Close(); err != nil {
		return err
	}
	fmt.Fprintln(io.out, "The schema is up to date.")
	if c.Adopt {
		fmt.Fprintln(io.out, "Database, photo folder and key file belong together.")
	}
	return nil
}

// checkNew looks, before an SQLite file is made, at what is there already.
func (c *migrateCommand) checkNew(ctx context.Context) error {
	if err := models.CheckURL(c.database()); err != nil {
		return err
	}
	if c.Adopt || models.IsPostgres(c.database()) {
		return nil
	}
	if _, err := os.Stat(c.database()); !errors.Is(err, os.ErrNotExist) {
		return nil
	}
	b, err := belongingOf(ctx, nil, c.location(), c.database()+", which is not there")
	if err != nil {
		return err
	}
	return b.together()
}

type serveCommand struct {
	placeFlags
	tablesFlag
	mailFlags
	outsideFlags
	SSO      ssoFlags `embed:"" prefix:"sso-"`
	Addr     string   `help:"Address to listen on." default:"127.0.0.1:8080" env:"REVIDIT_ADDR"`
	Insecure bool     `help:"Let browsers log in over plain HTTP (for a trial on one machine)." env:"REVIDIT_INSECURE"`
	Proxies  []string `help:"Addresses or networks of proxies whose X-Forwarded-For and X-Forwarded-Proto are believed." env:"REVIDIT_PROXIES"`
	Origins  []string `help:"Further origins (https://…) from which browsers may change things." env:"REVIDIT_ORIGINS"`

	ConnectionsPerAddress int           `help:"Connections that one address may have open at a time, but for proxies that are believed." default:"200" env:"REVIDIT_CONNECTIONS_PER_ADDRESS" placeholder:"N"`
	IdleLimit             time.Duration `help:"How long a login lasts that nobody uses, such as 30m or 8h; twelve hours after its beginning it ends anyway." default:"2h" env:"REVIDIT_IDLE_LIMIT" placeholder:"TIME"`
	SecondFactor          string        `help:"Whether curators are asked for a second factor, or required to have one before they can do anything." enum:"asked,required" default:"asked" env:"REVIDIT_SECOND_FACTOR"`
	BodiesPerAddress      int           `help:"Requests of one address whose bodies may be arriving at a time." default:"100" env:"REVIDIT_BODIES_PER_ADDRESS" placeholder:"N"`
	UploadsPerMinute      int           `help:"Files that one person may send in a minute on end; five minutes' worth at once, and four times as much from one address." default:"60" env:"REVIDIT_UPLOADS_PER_MINUTE" placeholder:"N"`
	DraftsPerMinute       int           `help:"Drafts that one person may save and submissions that they may send in a minute on end, as above." default:"60" env:"REVIDIT_DRAFTS_PER_MINUTE" placeholder:"N"`
}

// check refuses bounds by which nobody would get in.
func (c *serveCommand) check() error {
	if min(c.ConnectionsPerAddress, c.BodiesPerAddress, c.UploadsPerMinute, c.DraftsPerMinute) < 1 {
		return errors.New("--connections-per-address, --bodies-per-address, --uploads-per-minute and --drafts-per-minute must be at least 1")
	}
	if c.IdleLimit < leastIdle {
		return fmt.Errorf("--idle-limit %s is too short: at least %s, since it is noted once in some minutes that a login is used", c.IdleLimit, leastIdle)
	}
	return nil
}

// leastIdle is the shortest limit on logins that nobody uses.
const leastIdle = 15 * time.Minute

// sayFirst tells who keeps the server how the first curator gets in.
func (c *serveCommand) sayFirst(ctx context.Context, db *models.DB, io console) error {
	accounts, err := db.FindAccounts(ctx)
	if err == nil && len(accounts) == 0 {
		fmt.Fprintf(io.err, "Nobody has an account yet. Make a link for the first curator: revidit user first --data %s\n", c.Data)
	}
	return err
}

// Run serves until the context ends. It refuses a schema that is not this program's.
func (c *serveCommand) Run(ctx context.Context, io console) error {
	if err := c.check(); err != nil {
		return err
	}
	library, err := c.library()
	if err != nil {
		return err
	}
	post, err := c.post(library)
	if err != nil {
		return err
	}
	outside, err := c.places(c.mailFlags, library)
	if err != nil {
		return err
	}
	provider, err := c.SSO.provider(c.URL)
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
	security, endLog, err := c.securityLog(io.err, log)
	if err != nil {
		return err
	}
	defer endLog()
	house, err := newHouseWith(ctx, db, c.location(), library, service.Options{Log: log, Post: post, Outside: outside}, auth.Options{Cheap: cheapPasswords, Mails: post != nil, IdleLimit: c.IdleLimit, Log: log, PublicURL: c.URL, Provider: provider})
	if err != nil {
		return err
	}
	if err := c.sayFirst(ctx, db, io); err != nil {
		return err
	}
	config := web.Config{Secure: !c.Insecure, Log: log, Security: security, TrustedProxies: c.Proxies, Origins: c.Origins, PublicURL: strings.TrimSuffix(c.URL, "/"), SecondFactor: c.SecondFactor,
		MostConnections: c.ConnectionsPerAddress, MostBodies: c.BodiesPerAddress, UploadsPerMinute: c.UploadsPerMinute, DraftsPerMinute: c.DraftsPerMinute}
	return whileWorking(ctx, db, house.service, log, func(work func()) error {
		return house.serve(ctx, listener, config, func(address string) {
			fmt.Fprintf(io.out, "listening on http://%s\n", address)
			work()
		})
	})
}

// house is the wired service of one data folder.
type house struct {
	db       *models.DB
	blobs    *blob.Dir
	accounts *auth.Accounts
	service  *service.Service
}

// newHouse wires it, after it has made sure that the three places of the club belong together. With o.NewID people get ids
// of that kind, too.
func newHouse(ctx context.Context, db *models.DB, at location, library *service.Library, o service.Options) (*house, error) {
	return newHouseWith(ctx, db, at, library, o, auth.Options{Cheap: cheapPasswords})
}

// cheapPasswords is set by tests alone, which start the program hundreds of times: passwords cost next to nothing then.
var cheapPasswords bool

func newHouseWith(ctx context.Context, db *models.DB, at location, library *service.Library, o service.Options, doors auth.Options) (*house, error) {
	blobs, ring, err := openPlaces(ctx, db, at, false)
	if err != nil {
		return nil, err
	}
	if o.Arriving == "" {
		o.Arriving = filepath.Join(at.data, "arriving")
	}
	o.Keys = ring.Keys
	if o.Signer, err = proof.NewSigner(ring.Signing); err != nil {
		return nil, err
	}
	doors.NewID = o.NewID
	accounts, err := auth.NewAccounts(db, ring, doors)
	if err != nil {
		return nil, err
	}
	return &house{db: db, blobs: blobs, accounts: accounts, service: service.NewService(db, blobs, library, o)}, nil
}

// openPlaces opens the photo folder and the key file of a club, making them where they are new, and refuses those of another
// club than the database. Where adopt is true they are taken for this club's whatever they say.
func openPlaces(ctx context.Context, db *models.DB, at location, adopt bool) (*blob.Dir, *auth.KeyRing, error) {
	b, err := belongingOf(ctx, db, at, db.Place())
	if err == nil && b.together() != nil {
		// Another process may have been settling the same club meanwhile.
		b, err = belongingOf(ctx, db, at, db.Place())
	}
	if err != nil {
		return nil, nil, err
	}
	if err := b.together(); err != nil && !adopt {
		return nil, nil, err
	}
	photos, err := blob.OpenDir(b.photos)
	if err != nil {
		return nil, nil, err
	}
	ring, err := auth.LoadOrCreateKeys(b.key)
	if err == nil {
		err = b.settle(ctx, db, photos, ring)
	}
	if err == nil {
		err = haveSigning(ring)
	}
	if err == nil {
		err = ring.HaveTokenKey(time.Now())
	}
	if err != nil {
		return nil, nil, errors.Join(err, photos.Close())
	}
	return photos, ring, nil
}

// haveSigning has the key file hold a key that signs checkpoints. It stands with the other keys, never in the database: who has
// that alone can sign nothing.
func haveSigning(ring *auth.KeyRing) error {
	if ring.Signing != "" {
		return nil
	}
	private, err := proof.NewKey("revidit/" + ring.Club)
	if err != nil {
		return fmt.Errorf("make the key that signs checkpoints: %w", err)
	}
	return ring.SetSigning(private)
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

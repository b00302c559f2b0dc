package modelstest

import (
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"strings"
	"sync"

	"revidit/models"
	"revidit/models/pgserver"
)

// databases hands out databases of one server. A template is migrated once, and cloned for each test: that takes a third
// of the time of migrating.
type databases struct {
	mu       sync.Mutex
	willStop bool // Main will call stop
	err      error
	server   *pgserver.Server // nil where the environment names one
	admin    *sql.DB
	base     *url.URL
	prefix   string
	strategy string // of cloning
	made     int
}

var shared databases

const urlVariable = "REVIDIT_TEST_POSTGRES_URL"

// create returns the URL of a new database and how to drop it.
func (d *databases) create(ctx context.Context, migrated bool) (string, func(context.Context) error, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.start(ctx); err != nil {
		return "", nil, err
	}
	d.made++
	name := fmt.Sprintf("%s_%d", d.prefix, d.made)
	template := "template0"
	if migrated {
		template = d.template()
	}
	if err := d.exec(ctx, "CREATE DATABASE "+name+" TEMPLATE "+template+d.strategy); err != nil {
		return "", nil, err
	}
	drop := func(ctx context.Context) error { return d.exec(ctx, "DROP DATABASE "+name+" WITH (FORCE)") }
	return d.url(name), drop, nil
}

// start starts or reaches the server and makes the template, once; an error stays, so that every test tells it.
func (d *databases) start(ctx context.Context) error {
	if d.admin != nil || d.err != nil {
		return d.err
	}
	if !d.willStop {
		return errors.New("tests with PostgreSQL need: func TestMain(m *testing.M) { os.Exit(modelstest.Main(m)) }")
	}
	d.err = d.startOnce(ctx)
	return d.err
}

func (d *databases) startOnce(ctx context.Context) error {
	text := os.Getenv(urlVariable)
	if text == "" {
		started, err := pgserver.Start(ctx, pgserver.Options{Parent: fastFolder(), Settings: pgserver.Throwaway})
		if errors.Is(err, pgserver.ErrNoPrograms) {
			return fmt.Errorf("%w, or name a server in %s", err, urlVariable)
		}
		if err != nil {
			return err
		}
		d.server, text = started, started.URL
	}
	base, err := url.Parse(text)
	if err != nil {
		return fmt.Errorf("%s is no URL", urlVariable) // without the text: it may hold a password
	}
	d.base = base
	d.prefix = "revidit_test_" + strings.ToLower(rand.Text()[:10])
	if d.admin, err = sql.Open("pgx", text); err != nil {
		return fmt.Errorf("reach the test database server: %w", err)
	}
	if err := d.exec(ctx, "CREATE DATABASE "+d.template()+" TEMPLATE template0"); err != nil {
		return err
	}
	if d.strategy, err = d.cheapest(ctx); err != nil {
		return err
	}
	return d.migrateTemplate(ctx)
}

// cheapest is how a database is cloned: copying its files takes half of the processor's time that logging every page does,
// which is the usual way since PostgreSQL 15; before there was no other.
func (d *databases) cheapest(ctx context.Context) (string, error) {
	const withChoice = 15_00_00
	var version int
	if err := d.admin.QueryRowContext(ctx, "SELECT current_setting('server_version_num')::int").Scan(&version); err != nil {
		return "", fmt.Errorf("ask which version the test database server has: %w", err)
	}
	if version < withChoice {
		return "", nil
	}
	return " STRATEGY file_copy", nil
}

func (d *databases) migrateTemplate(ctx context.Context) error {
	db, err := models.Open(ctx, d.url(d.template()))
	if err != nil {
		return err
	}
	return errors.Join(db.Migrate(ctx), db.Close())
}

func (d *databases) template() string { return d.prefix + "_template" }

func (d *databases) url(name string) string {
	u := *d.base
	u.Path = "/" + name
	return u.String()
}

func (d *databases) exec(ctx context.Context, statement string) error {
	if _, err := d.admin.ExecContext(ctx, statement); err != nil {
		return fmt.Errorf("%s: %w", statement, err)
	}
	return nil
}

// stop drops the template and stops the server.
func (d *databases) stop() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	var errs []error
	if d.admin != nil {
		errs = append(errs, d.exec(context.Background(), "DROP DATABASE IF EXISTS "+d.template()+" WITH (FORCE)"), d.admin.Close())
	}
	if d.server != nil {
		errs = append(errs, d.server.Stop())
	}
	return errors.Join(errs...)
}

package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"strings"
	"time"

	"github.com/schollz/progressbar/v3"

	"revidit/cmd/revidit/collection"
	"revidit/cmd/revidit/stopwatch"
	"revidit/models/pgserver"
)

type benchPages struct {
	Rows     int           `help:"Submissions of the large collection; the small one has a hundredth of them." default:"100000" placeholder:"N"`
	Lives    int           `help:"Different lives that the submissions are made of." default:"200" placeholder:"N"`
	Seed     uint64        `help:"Seed of the made-up collection." default:"1" placeholder:"N"`
	Keep     string        `help:"Folder to keep the filled databases in, to look at them with EXPLAIN; SQLite files that are there from a run before are measured again. Empty: a temporary one, removed at the end." type:"path" placeholder:"DIR"`
	Database string        `help:"postgres:// URL of a server to use in place of one of our own, by a user who may create databases. What a submit writes cannot be seen there, so that submit_ratio stays unknown." placeholder:"URL"`
	Each     time.Duration `help:"How long a round of submits takes." default:"5s" placeholder:"TIME"`
	Rounds   int           `help:"Rounds of each page and act at most; slow ones get fewer." default:"201" placeholder:"N"`
	Audit    bool          `help:"Measure the first pages of an audit in the same collections as well, as bench audit does; its line of figures comes before the last one."`
	Only     string        `help:"Only this database." enum:",sqlite,postgres" default:""`
}

const (
	hundredth    = 100
	fewestRows   = 2 * hundredth
	fewestLives  = 60 // so that there is a life of each kind
	submitRounds = 3
)

// Validate checks the numbers.
func (c *benchPages) Validate() error {
	if c.Rows < fewestRows || c.Lives < fewestLives || c.Each < time.Second || c.Rounds < 1 {
		return fmt.Errorf("--rows must be at least %d, --lives at least %d, --each at least a second and --rounds above 0; nothing was measured", fewestRows, fewestLives)
	}
	return nil
}

// Run fills, measures and prints, and ends with the line of figures.
func (c *benchPages) Run(ctx context.Context, io console) error {
	return c.run(ctx, io, (*pagesMeasuring).everyPage, (*pagesMeasuring).figures)
}

// pairMeasure measures a pair of collections.
type pairMeasure func(m *pagesMeasuring, ctx context.Context, name string, pair stopwatch.Pair) error

// run makes the collections, has each pair of them measured, and ends with a line of figures.
func (c *benchPages) run(ctx context.Context, io console, measure pairMeasure, figures func(*pagesMeasuring) string) (err error) {
	defer debug.SetGCPercent(debug.SetGCPercent(garbage)) // much is made up in a short time
	folder, cleanUp, err := c.folder()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, cleanUp()) }()
	m := &pagesMeasuring{command: c, out: io.out, step: newStep(io), folder: folder, measuring: measure}
	fmt.Fprintf(m.out, "%s, %s/%s, %d cores; times are medians of rounds taken in turns. Pages go through the handler of the server, without a network.\n", runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.NumCPU())
	if m.moulds, err = collection.Live(ctx, c.Seed, c.Lives, func(done, all int) { m.step("Living made-up lives", done, all) }); err != nil {
		return err
	}
	for _, kind := range []struct {
		name    string
		measure func(context.Context) error
	}{{"sqlite", m.sqlite}, {"postgres", m.postgres}} {
		if c.Only != "" && c.Only != kind.name {
			continue
		}
		if err := kind.measure(ctx); err != nil {
			return fmt.Errorf("%s: %w", kind.name, err)
		}
	}
	fmt.Fprintf(m.out, "\n%s\n", figures(m))
	return nil
}

func (c *benchPages) folder() (folder string, cleanUp func() error, err error) {
	if c.Keep != "" {
		return c.Keep, func() error { return nil }, os.MkdirAll(c.Keep, 0o755)
	}
	folder, err = os.MkdirTemp("", "revidit-pages-")
	if err != nil {
		return "", nil, err
	}
	return folder, func() error { return os.RemoveAll(folder) }, os.Chmod(folder, 0o755) // PostgreSQL runs as another user
}

// newStep shows how far it is, on a terminal only.
func newStep(io console) func(what string, done, all int) {
	file, ok := io.err.(*os.File)
	if !ok || !isTerminal(file) {
		return func(string, int, int) {}
	}
	bar := progressbar.NewOptions(0, progressbar.OptionSetWriter(io.err), progressbar.OptionShowCount(), progressbar.OptionClearOnFinish(),
		progressbar.OptionThrottle(100*time.Millisecond))
	return func(what string, done, all int) {
		bar.Describe(what)
		bar.ChangeMax(all)
		_ = bar.Set(done) // a bar that cannot be drawn is no reason to stop
	}
}

// pagesMeasuring is one run.
type pagesMeasuring struct {
	command *benchPages
	out     io.Writer
	step    func(what string, done, all int)
	folder  string
	moulds  *collection.Moulds
	lines   []stopwatch.Line // of both databases, like audits
	audits  []stopwatch.AuditLine
	submits *stopwatch.Submits
	// measuring is what is measured of a pair, and server and url where the large one stands on PostgreSQL.
	measuring pairMeasure
	server    *pgserver.Server
	url       string
}

// sqlite measures with two files.
func (m *pagesMeasuring) sqlite(ctx context.Context) error {
	return m.measure(ctx, "SQLite", func(submissions int) (string, error) {
		data := filepath.Join(m.folder, fmt.Sprint("sqlite-", submissions))
		if err := os.MkdirAll(data, 0o700); err != nil {
			return "", err
		}
		return filepath.Join(data, "revidit.sqlite"), nil
	}, nil)
}

// postgres measures on a server of our own, or on the one that was named.
func (m *pagesMeasuring) postgres(ctx context.Context) (err error) {
	url := m.command.Database
	var server *pgserver.Server
	if url == "" {
		settings := append([]string{"shared_buffers=1GB", "max_wal_size=8GB", "checkpoint_timeout=30min",
			"wal_level=minimal", "max_wal_senders=0"}, stopwatch.LogSettings...) // nobody copies from it
		server, err = pgserver.Start(ctx, pgserver.Options{Parent: m.folder, Settings: settings, Keep: m.command.Keep != ""})
		if errors.Is(err, pgserver.ErrNoPrograms) {
			fmt.Fprintf(m.out, "\nPostgreSQL was left out: %v, or name a server with --database.\n", err)
			return nil
		}
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, server.Stop()) }()
		url = server.URL
		if m.command.Keep != "" {
			fmt.Fprintf(m.out, "\nThe PostgreSQL server's data stay in %s.\n", server.Data())
		}
	}
	return m.measure(ctx, "PostgreSQL", func(submissions int) (string, error) {
		return pgserver.CreateDatabase(ctx, url, fmt.Sprint("revidit_pages_", submissions))
	}, server)
}

// place makes room for a collection and returns its path or URL.
type place func(submissions int) (string, error)

func (m *pagesMeasuring) measure(ctx context.Context, name string, at place, server *pgserver.Server) (err error) {
	fmt.Fprintf(m.out, "\n%s\n", name)
	pair := stopwatch.Pair{Rounds: m.command.Rounds}
	var url string
	for _, s := range []struct {
		submissions int
		site        **stopwatch.Site
	}{{m.command.Rows / hundredth, &pair.Small}, {m.command.Rows, &pair.Large}} {
		if url, err = at(s.submissions); err != nil {
			return err
		}
		site, err := m.fill(ctx, name, url, s.submissions)
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, site.DB.Close()) }()
		*s.site = site
	}
	m.server, m.url = server, url
	return m.measuring(m, ctx, name, pair)
}

// everyPage is what bench pages measures. Audits come last: their statements are timed, which is left on.
func (m *pagesMeasuring) everyPage(ctx context.Context, name string, pair stopwatch.Pair) error {
	if err := m.pagesAndActs(ctx, name, pair); err != nil || !m.command.Audit {
		return err
	}
	return m.auditPages(ctx, name, pair)
}

// pagesAndActs measures with submits, on a server of our own.
func (m *pagesMeasuring) pagesAndActs(ctx context.Context, name string, pair stopwatch.Pair) error {
	told := func(what string) { m.step(name+": "+strings.TrimSpace(what), 0, 1) }
	lines, err := pair.Pages(ctx, told)
	if err != nil {
		return err
	}
	acts, err := pair.Acts(ctx, told)
	if err != nil {
		return err
	}
	lines = append(lines, acts...)
	m.table(lines)
	m.lines = append(m.lines, lines...)
	if m.server == nil {
		return nil
	}
	return m.submitRatio(ctx, pair.Large, m.server, m.url)
}

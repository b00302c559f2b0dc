package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"revidit/auth"
	"revidit/cmd/revidit/collection"
	"revidit/review/diagnosis"
	"revidit/review/service"
	"revidit/web"
)

type benchLogins struct {
	Rows   int           `help:"Submissions of the made-up collection." default:"2000" placeholder:"N"`
	Rate   int           `help:"Wrong logins in a second, each of another login from another address, so that no limit stops them." default:"10" placeholder:"N"`
	Each   time.Duration `help:"How long a round takes, with logins and without." default:"10s" placeholder:"TIME"`
	Rounds int           `help:"Rounds of each, in turns." default:"3" placeholder:"N"`
}

// Validate checks the numbers.
func (c *benchLogins) Validate() error {
	if c.Rows < 1 || c.Rate < 1 || c.Each < time.Second || c.Rounds < 1 {
		return errors.New("--rows, --rate and --rounds must be above 0, --each at least a second; nothing was measured")
	}
	return nil
}

// Run makes a collection, asks for the queue page again and again, with wrong logins beside it and without, and ends with the line of figures.
func (c *benchLogins) Run(ctx context.Context, on console) (err error) {
	folder, err := os.MkdirTemp("", "revidit-logins-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	site, end, err := c.site(ctx, folder)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, end()) }()
	fmt.Fprintf(on.out, "%s, %s/%s, %d cores; the queue page of %d submissions on SQLite, asked for ten times a second, %d rounds of %s in turns without and with %d wrong logins a second.\n",
		runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.NumCPU(), c.Rows, c.Rounds, c.Each, c.Rate)
	for range c.Rounds {
		if err := site.round(ctx, c.Each, 0); err != nil {
			return err
		}
		if err := site.round(ctx, c.Each, c.Rate); err != nil {
			return err
		}
	}
	site.tell(on.out)
	return nil
}

// guessing is the site at which passwords are guessed.
type guessing struct {
	handler http.Handler
	cookie  *http.Cookie

	alone, beside []time.Duration // of the queue page
	mu            sync.Mutex
	logins        []time.Duration
	guessed       int
}

// site is a made-up collection behind the server's handler, with a reviewer who is logged in.
func (c *benchLogins) site(ctx context.Context, folder string) (*guessing, func() error, error) {
	db, err := placeFlags{Data: folder}.create(ctx)
	if err != nil {
		return nil, nil, err
	}
	if err := db.Migrate(ctx); err != nil {
		return nil, nil, errors.Join(err, db.Close())
	}
	g, err := c.fill(ctx, folder, &house{db: db})
	if err != nil {
		return nil, nil, errors.Join(err, db.Close())
	}
	return g, db.Close, nil
}

func (c *benchLogins) fill(ctx context.Context, folder string, h *house) (*guessing, error) {
	h, err := newHouseWith(ctx, h.db, inFolder(folder), service.NewLibrary(diagnosis.All()...), service.Options{}, auth.Options{}) // as dear as they are
	if err != nil {
		return nil, err
	}
	hash, err := h.accounts.Hash(ctx, "measurer", pagesPassword)
	if err != nil {
		return nil, err
	}
	moulds, err := collection.Live(ctx, 1, fewestLives, func(int, int) {})
	if err != nil {
		return nil, err
	}
	if err := h.db.Fill(ctx, moulds.Of(c.Rows, 1, time.Now(), hash).Fillings(func(int, int) {})); err != nil {
		return nil, err
	}
	server, err := web.New(web.Config{Service: h.service, Accounts: h.accounts, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		return nil, err
	}
	token, _, err := h.accounts.Login(ctx, "reviewer-1", pagesPassword, "192.0.2.1")
	if err != nil {
		return nil, err
	}
	return &guessing{handler: server.Handler, cookie: &http.Cookie{Name: "revidit", Value: token}}, nil
}

// round asks for the queue page ten times a second, with so many wrong logins a second beside it.
func (g *guessing) round(ctx context.Context, each time.Duration, rate int) error {
	ctx, cancel := context.WithTimeout(ctx, each)
	defer cancel()
	var guesses sync.WaitGroup
	defer guesses.Wait()
	if rate > 0 {
		guesses.Go(func() { g.guess(ctx, rate, &guesses) })
	}
	ask := time.NewTicker(100 * time.Millisecond)
	defer ask.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-ask.C:
		}
		took, err := g.queue()
		if err != nil {
			return err
		}
		if rate > 0 {
			g.beside = append(g.beside, took)
		} else {
			g.alone = append(g.alone, took)
		}
	}
}

func (g *guessing) queue() (time.Duration, error) {
	request := httptest.NewRequest(http.MethodGet, "/queue", nil)
	request.AddCookie(g.cookie)
	response := httptest.NewRecorder()
	began := time.Now()
	g.handler.ServeHTTP(response, request)
	if response.Code != http.StatusOK {
		return 0, fmt.Errorf("the queue page answered %d", response.Code)
	}
	return time.Since(began), nil
}

// guess sends wrong logins, whether the ones before were answered or not, as whoever guesses does.
func (g *guessing) guess(ctx context.Context, rate int, under *sync.WaitGroup) {
	next := time.NewTicker(time.Second / time.Duration(rate))
	defer next.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-next.C:
			g.guessed++
			n := g.guessed
			under.Go(func() { g.wrong(n) })
		}
	}
}

func (g *guessing) wrong(n int) {
	form := url.Values{"login": {fmt.Sprint("nobody-", n)}, "password": {"a wrong password"}}
	request := httptest.NewRequest(http.MethodPost, "/login", strings.NewReader(form.Encode()))
	request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	request.RemoteAddr = fmt.Sprintf("10.%d.%d.%d:1024", n>>16&255, n>>8&255, n&255)
	began := time.Now()
	g.handler.ServeHTTP(httptest.NewRecorder(), request)
	g.mu.Lock()
	defer g.mu.Unlock()
	g.logins = append(g.logins, time.Since(began))
}

func (g *guessing) tell(out io.Writer) {
	alone, beside, login := ninetyFifth(g.alone), ninetyFifth(g.beside), ninetyFifth(g.logins)
	fmt.Fprintf(out, "\nqueue_p95_ms=%.1f beside_ms=%.1f ratio=%.2f logins=%d login_p95_ms=%.0f\n", milliseconds(alone), milliseconds(beside),
		float64(beside)/float64(alone), len(g.logins), milliseconds(login))
}

// ninetyFifth is the 95th percentile, by rank.
func ninetyFifth(took []time.Duration) time.Duration {
	if len(took) == 0 {
		return 0
	}
	sorted := slices.Sorted(slices.Values(took))
	return sorted[(len(sorted)*95+99)/100-1]
}

package main

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"revidit/cmd/revidit/demo"
	"revidit/review/diagnosis"
	"revidit/review/service"
)

// madeUp is the club of the demo, made once and served once for all tests that only look at it. Its pictures are small but where it is
// measured or drawn. TestMain ends it.
var madeUp sharedDemo

type sharedDemo struct {
	once    sync.Once
	folder  string
	program *program
	places  *places // set when all of it was found
}

func (d *sharedDemo) serve(t *testing.T) *places {
	t.Helper()
	d.once.Do(func() {
		folder, err := os.MkdirTemp("", "revidit-made-up-")
		require.NoError(t, err)
		d.folder = folder
		data := filepath.Join(folder, "club")
		fillDemo(t, data, sizeOfPictures())
		d.program = launch(t, "demo", "--data", data, "--addr", "127.0.0.1:0")
		d.places = findPlaces(t, d.program)
	})
	require.NotNil(t, d.places, "the made-up club could not be made; another test says why")
	return d.places
}

func (d *sharedDemo) stop() error {
	if d.program != nil {
		_ = d.program.cmd.Process.Kill() // it may have ended by itself
		_ = d.program.cmd.Wait()
	}
	return os.RemoveAll(d.folder)
}

func sizeOfPictures() demo.Size {
	if os.Getenv(measured)+os.Getenv(shotsTo) != "" {
		return demo.PictureSize
	}
	return demo.Size{Width: 480, Height: 360}
}

func fillDemo(t *testing.T, data string, pictures demo.Size) {
	t.Helper()
	ctx := context.Background()
	db, err := placeFlags{Data: data}.create(ctx)
	require.NoError(t, err)
	require.NoError(t, db.Migrate(ctx))
	require.NoError(t, fillOnce(ctx, console{out: io.Discard, err: &bytes.Buffer{}}, db, data, service.NewLibrary(diagnosis.All()...), pictures))
	require.NoError(t, db.Close())
}

// enter logs in without a page, so that nothing of the site is in the browser yet.
func (b *browser) enter(cookie *http.Cookie) {
	b.Helper()
	b.do(func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		return chromedp.Void{}, t.Call(ctx, "Network.setCookie", map[string]any{"name": cookie.Name, "value": cookie.Value, "url": b.base}, nil)
	})
}

// cookieOf is what the login page gives.
func cookieOf(t *testing.T, base, login, password string) *http.Cookie {
	t.Helper()
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	site, err := url.Parse(base)
	require.NoError(t, err)
	visitor := http.Client{Jar: jar}
	answer, err := visitor.PostForm(base+"/login", url.Values{"login": {login}, "password": {password}})
	require.NoError(t, err)
	defer answer.Body.Close()
	require.Equal(t, http.StatusOK, answer.StatusCode)
	for _, c := range jar.Cookies(site) {
		return c
	}
	require.Fail(t, "no login", login)
	return nil
}

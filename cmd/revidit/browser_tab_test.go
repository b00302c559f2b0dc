package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// browser is a tab of a real Chromium, with cookies of its own. Chromium is missing only where deploy/check.sh has not
// been run: then the test fails and says so.
type browser struct {
	*testing.T
	ctx  context.Context
	base string
}

// chromium is started once for all tests; TestMain closes it.
var chromium = &sharedChromium{}

type sharedChromium struct {
	once    sync.Once
	program string
	ctx     context.Context
	err     error
	close   func()
}

func (c *sharedChromium) start() {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if found, err := exec.LookPath(name); err == nil {
			c.program = found
			break
		}
	}
	if c.program == "" {
		c.err = errors.New("Chromium is missing: deploy/check.sh installs Debian's package, or install chromium yourself")
		return
	}
	profile, err := os.MkdirTemp("", "revidit-chromium-")
	if err != nil {
		c.err = err
		return
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(c.program), chromedp.NoSandbox,
		chromedp.UserDataDir(profile), chromedp.Flag("disable-gpu", true), chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-sync", true), chromedp.Flag("no-first-run", true))
	if os.Getenv(measured) == "" { // scripts then take a third less of the processor, and a little longer
		options = append(options, chromedp.Flag("js-flags", "--single-threaded"))
	}
	allocated, stop := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, closeFirst := chromedp.NewContext(allocated)
	c.ctx = ctx
	c.close = func() {
		closeFirst()
		stop()
		_ = os.RemoveAll(profile) // what is left of it lies in the folder of temporary files
	}
	c.err = chromedp.Do(ctx, chromedp.Navigate("about:blank")) // the first tab starts it
}

// stop closes Chromium where a test has started it.
func (c *sharedChromium) stop() {
	if c.close != nil {
		c.close()
	}
}

func openBrowser(t *testing.T, base string) *browser {
	t.Helper()
	chromium.once.Do(chromium.start)
	require.NoError(t, chromium.err)
	ctx, closeTab := chromedp.NewContext(chromium.ctx, chromedp.WithNewBrowserContext())
	t.Cleanup(closeTab)
	ctx, cancel := context.WithTimeout(ctx, 20*time.Minute) // a walk over many pages, on a busy machine
	t.Cleanup(cancel)
	b := &browser{T: t, ctx: ctx, base: base}
	b.do(chromedp.EmulateViewport(1280, 900))
	return b
}

func (b *browser) do(actions ...chromedp.Action[chromedp.Void]) {
	b.Helper()
	for _, a := range actions {
		require.NoError(b, chromedp.Do(b.ctx, a))
	}
}

func (b *browser) open(path string) {
	b.Helper()
	b.do(chromedp.Navigate(b.base + path))
}

// script runs a JavaScript expression.
func (b *browser) script(format string, args ...any) {
	b.Helper()
	b.do(chromedp.Evaluate[chromedp.Void]("void (" + fmt.Sprintf(format, args...) + ")"))
}

// fill sets a field by its name and tells the page's scripts.
func (b *browser) fill(name, value string) {
	b.Helper()
	b.script(`(e => { e.value = %q; e.dispatchEvent(new Event("input", {bubbles: true})); e.dispatchEvent(new Event("change", {bubbles: true})); })(document.getElementsByName(%q)[0])`, value, name)
}

// choose checks a radio button or a checkbox.
func (b *browser) choose(name, value string) {
	b.Helper()
	b.script(`[...document.getElementsByName(%q)].find(e => e.value === %q).click()`, name, value)
}

// press clicks the first button that has one of these texts, and waits for the page that follows.
func (b *browser) press(texts ...string) {
	b.Helper()
	said, err := json.Marshal(texts)
	require.NoError(b, err)
	b.pressOn(fmt.Sprintf(`[...document.querySelectorAll("button")].find(e => %s.includes(e.textContent.trim()))`, said))
}

// pressOn clicks what a JavaScript expression finds, and waits for the page that follows.
func (b *browser) pressOn(element string) {
	b.Helper()
	b.script(`window.leaving = true`)
	b.script(`(%s).click()`, element)
	b.wait(`!window.leaving && document.readyState === "complete"`)
}

// wait waits until a JavaScript condition holds.
func (b *browser) wait(condition string) {
	b.Helper()
	for until := time.Now().Add(20 * time.Second); ; time.Sleep(20 * time.Millisecond) {
		holds, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool]("!!("+condition+")"))
		if err == nil && holds {
			return
		}
		// While a page is being replaced there is nothing to ask.
		require.True(b, time.Now().Before(until), "%s: %s", b.path(), condition)
	}
}

func (b *browser) text() string {
	b.Helper()
	text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`document.body.innerText`))
	require.NoError(b, err)
	return text
}

func (b *browser) path() string {
	b.Helper()
	location, err := chromedp.Run(b.ctx, chromedp.Location())
	require.NoError(b, err)
	return strings.TrimPrefix(location, b.base)
}

func (b *browser) login(login string) {
	b.Helper()
	b.open("/login")
	if strings.Contains(b.text(), "Log out") {
		b.press("Log out")
		b.open("/login")
	}
	b.fill("login", login)
	b.fill("password", testPassword)
	b.press("Log in")
	require.Contains(b, b.text(), "Test "+login)
}

package main

import (
	"context"
	_ "embed"
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
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

//go:embed testdata/axe/axe.min.js
var axe string

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
	once  sync.Once
	ctx   context.Context
	err   error
	close func()
}

func (c *sharedChromium) start() {
	program := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if found, err := exec.LookPath(name); err == nil {
			program = found
			break
		}
	}
	if program == "" {
		c.err = errors.New("Chromium is missing: deploy/check.sh installs Debian's package, or install chromium yourself")
		return
	}
	profile, err := os.MkdirTemp("", "revidit-chromium-")
	if err != nil {
		c.err = err
		return
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(program), chromedp.NoSandbox,
		chromedp.UserDataDir(profile), chromedp.Flag("disable-gpu", true), chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-sync", true), chromedp.Flag("no-first-run", true))
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
	ctx, cancel := context.WithTimeout(ctx, 8*time.Minute)
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

// press clicks the button with that text and waits for the page that follows.
func (b *browser) press(text string) {
	b.Helper()
	b.script(`window.leaving = true`)
	b.script(`[...document.querySelectorAll("button")].find(e => e.textContent.trim() === %q).click()`, text)
	b.wait(`!window.leaving && document.readyState === "complete"`)
}

func (b *browser) wait(condition string) {
	b.Helper()
	require.Eventually(b, func() bool {
		holds, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool]("!!("+condition+")"))
		return err == nil && holds // while a page is being replaced there is nothing to ask
	}, 20*time.Second, 50*time.Millisecond, condition)
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

// accessible lets axe-core (Deque Systems, rules of WCAG 2.2 A and AA) look at the page, which must fit a phone too.
func (b *browser) accessible() {
	b.Helper()
	b.do(chromedp.Evaluate[chromedp.Void](axe + "; void 0"))
	found, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](
		`axe.run().then(r => JSON.stringify(r.violations.map(v => [v.id, v.nodes.map(n => n.html)])))`, chromedp.EvalAwaitPromise))
	require.NoError(b, err)
	var violations []any
	require.NoError(b, json.Unmarshal([]byte(found), &violations))
	require.Empty(b, violations, "%s: %s", b.path(), found)
	b.fits()
}

// wideFont is wider than what browsers take where a page names no font: DejaVu Sans bold sets the same words about a third
// wider than Liberation Sans (measured). Debian has it in fonts-dejavu-core, which deploy/check.sh installs.
const wideFont = `"DejaVu Sans"`

// setWide sets the whole page in the wide font, bold. A style element would be against the page's own Content-Security-Policy.
const setWide = `(() => {
	const sheet = new CSSStyleSheet();
	sheet.replaceSync('*, *::before, *::after { font-family: ' + %q + ' !important; font-weight: 700 !important; }');
	document.adoptedStyleSheets = [sheet];
})()`

// beyond are the first elements that stand out on the right, for whoever has to mend it.
const beyond = `[...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > 320.5).slice(-3)
	.map(e => e.outerHTML.slice(0, 160)).join("\n")`

// fits requires that the page needs no scrolling sideways on a phone, in its own font and in a wide one.
func (b *browser) fits() {
	b.Helper()
	b.do(chromedp.EmulateViewport(320, 640))
	b.narrow("in its own font")
	b.script(setWide, wideFont)
	b.narrow("in a wide font")
	b.script(`document.adoptedStyleSheets = []`)
	b.do(chromedp.EmulateViewport(1280, 900))
}

func (b *browser) narrow(how string) {
	b.Helper()
	wide, err := chromedp.Run(b.ctx, chromedp.Evaluate[int](`document.documentElement.scrollWidth`))
	require.NoError(b, err)
	if wide > 320 {
		out, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](beyond))
		require.NoError(b, err)
		assert.Failf(b, "a page scrolls sideways on a phone", "%s, %s: %d px\n%s", b.path(), how, wide, out)
	}
}

// TestTheWideFontIsThere: where it is missing, another one would take its place and fits would test nothing.
func TestTheWideFontIsThere(t *testing.T) {
	t.Parallel()
	b := openBrowser(t, "about:blank")
	b.open("")
	width := func(font string) int {
		n, err := chromedp.Run(b.ctx, chromedp.Evaluate[int](fmt.Sprintf(`(() => {
			const c = document.createElement("canvas").getContext("2d");
			c.font = %q;
			return Math.round(c.measureText("Elateridae, Buprestidae, Coccinellidae").width);
		})()`, font)))
		require.NoError(t, err)
		return n
	}
	require.NotEqual(t, width(`700 100px monospace`), width(`700 100px `+wideFont+`, monospace`), "install Debian's fonts-dejavu-core")
	require.Greater(t, width(`700 100px `+wideFont), width(`100px serif`)*5/4)
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

package main

import (
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

//go:embed testdata/axe/axe.min.js
var axe string

// view is how a page is looked at.
type view struct {
	theme         string // of prefers-color-scheme
	width, height int64
}

var (
	lightDesk  = view{"light", 1280, 900}
	darkDesk   = view{"dark", 1280, 900}
	lightPhone = view{"light", 320, 640}
	darkPhone  = view{"dark", 320, 640}
)

func (v view) String() string { return fmt.Sprintf("%s, %d px", v.theme, v.width) }

func (b *browser) see(v view) {
	b.Helper()
	b.do(func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		theme := map[string]string{"name": "prefers-color-scheme", "value": v.theme}
		return chromedp.Void{}, t.Call(ctx, "Emulation.setEmulatedMedia", map[string]any{"features": []any{theme}}, nil)
	}, chromedp.EmulateViewport(v.width, v.height))
}

// Rules of axe-core: all that it has by itself, and the size of targets of WCAG 2.2 (2.5.8, AA), which it leaves out. ofSight are
// those of them that theme and width decide; the others are about what stands in the page. Style sheets are not fetched a second time:
// only a rule that axe-core leaves out by itself (css-orientation-lock) reads them.
const (
	allRules = `{preload: {assets: ["media"]}, resultTypes: ["violations"], rules: {"target-size": {enabled: true}}}`
	ofSight  = `{preload: false, resultTypes: ["violations"], runOnly: {type: "rule",
		values: ["color-contrast", "link-in-text-block", "target-size", "scrollable-region-focusable", "aria-hidden-focus"]}}`
)

// carryAxe puts axe-core into every page that this tab opens from now on: sent for each, it takes as long as many a page takes to check.
func (b *browser) carryAxe() {
	b.Helper()
	b.do(func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		return chromedp.Void{}, t.Call(ctx, "Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": axe}, nil)
	})
}

// violations are what axe-core (Deque Systems, rules of WCAG 2.2 A and AA and its own) finds on the page, each with its nodes.
func (b *browser) violations(rules string) []string {
	b.Helper()
	if !evaluated[bool](b, `!!window.axe`) {
		b.do(chromedp.Evaluate[chromedp.Void](axe + "; void 0"))
	}
	found, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](
		`axe.run(`+rules+`).then(r => JSON.stringify(r.violations.map(v => v.id + ": " + v.nodes.map(n => n.html).join("\n    "))))`, chromedp.EvalAwaitPromise))
	require.NoError(b, err)
	var violations []string
	require.NoError(b, json.Unmarshal([]byte(found), &violations))
	return violations
}

// accessible requires of a page that TestEveryPageInABrowser cannot come to (what a form answers, what a script opens) that axe-core
// finds nothing, and that it fits a phone.
func (b *browser) accessible() {
	b.Helper()
	require.Empty(b, b.violations(allRules), b.path())
	b.fits()
}

// mostAlike is how many things of one kind, beside each other, axe-core is asked about daily: rows of a table, families, questions.
const mostAlike = 8

// thin cuts long lists: of more than mostAlike siblings of one kind only the first stay, since axe-core takes seconds for pages of
// thousands of things, and the next row has no fault that the first eight have not.
func (b *browser) thin() {
	b.Helper()
	b.script(`document.querySelectorAll("main *").forEach(parent => {
		const seen = new Map();
		for (const child of [...parent.children]) {
			const kind = child.tagName + "." + child.className + "." + (child.type ?? "");
			seen.set(kind, (seen.get(kind) ?? 0) + 1);
			if (seen.get(kind) > %d) { child.remove(); }
		}
	})`, mostAlike)
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
const beyond = `[...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > innerWidth + 0.5).slice(-3)
	.map(e => e.outerHTML.slice(0, 160)).join("\n")`

// fits requires that the page needs no scrolling sideways on a phone, in its own font and in a wide one.
func (b *browser) fits() {
	b.Helper()
	b.narrow(chromedp.EmulateViewport(320, 640), 320)
	b.do(chromedp.EmulateViewport(1280, 900))
}

// fitsZoomed requires it on a screen of 1280 px at 200 %, too (WCAG 2.2, 1.4.4 and 1.4.10): half as many pixels of twice the size.
func (b *browser) fitsZoomed() {
	b.Helper()
	b.narrow(chromedp.EmulateViewport(640, 450, chromedp.EmulateScale(2)), 640)
}

func (b *browser) narrow(window chromedp.Action[chromedp.Void], most int) {
	b.Helper()
	b.do(window)
	b.within(most, "in its own font")
	b.script(setWide, wideFont)
	b.within(most, "in a wide font")
	b.script(`document.adoptedStyleSheets = []`)
}

func (b *browser) within(most int, how string) {
	b.Helper()
	if wide := evaluated[int](b, `document.documentElement.scrollWidth`); wide > most {
		assert.Failf(b, "a page scrolls sideways", "%s at %d px, %s: %d px\n%s", b.path(), most, how, wide, evaluated[string](b, beyond))
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

// TestAxeFindsWhatIsWrongInABrowser: a page with a fault for every rule of ofSight but one that needs a whole page, and one that is wide.
func TestAxeFindsWhatIsWrongInABrowser(t *testing.T) {
	t.Parallel()
	b := openBrowser(t, "data:text/html,")
	b.open(`<html lang="en"><title>t</title><main><h1>t</h1><p style="color:%23ccc">pale</p><button style="width:9px;height:9px;padding:0">.</button>` +
		`<button style="width:9px;height:9px;padding:0">.</button><div aria-hidden="true"><a href="/">hidden</a></div><img src="data:,"></main>`)
	found := strings.Join(b.violations(ofSight), "\n")
	for _, rule := range []string{"color-contrast:", "target-size:", "aria-hidden-focus:"} {
		require.Contains(t, found, rule)
	}
	require.NotContains(t, found, "image-alt:")
	require.Contains(t, strings.Join(b.violations(allRules), "\n"), "image-alt:")
}

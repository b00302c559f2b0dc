package main

import (
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

//go:embed testdata/axe/axe.min.js
var axe string

// browser is a real Chromium with one tab. It is missing only where deploy/check.sh has not been run: then the test
// fails and says so.
type browser struct {
	*testing.T
	ctx  context.Context
	base string
}

func openBrowser(t *testing.T, base string) *browser {
	t.Helper()
	program := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if found, err := exec.LookPath(name); err == nil {
			program = found
			break
		}
	}
	require.NotEmpty(t, program, "Chromium is missing: deploy/check.sh installs Debian's package, or install chromium yourself")
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(program), chromedp.NoSandbox,
		chromedp.UserDataDir(t.TempDir()), chromedp.Flag("disable-gpu", true), chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-sync", true), chromedp.Flag("no-first-run", true))
	ctx, cancel := context.WithTimeout(context.Background(), 4*time.Minute)
	t.Cleanup(cancel)
	ctx, closeBrowser := chromedp.NewExecAllocator(ctx, options...)
	t.Cleanup(closeBrowser)
	ctx, closeTab := chromedp.NewContext(ctx)
	t.Cleanup(closeTab)
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

// accessible lets axe-core (Deque Systems, rules of WCAG 2.2 A and AA) look at the page.
func (b *browser) accessible() {
	b.Helper()
	b.do(chromedp.Evaluate[chromedp.Void](axe + "; void 0"))
	found, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](
		`axe.run().then(r => JSON.stringify(r.violations.map(v => [v.id, v.nodes.map(n => n.html)])))`, chromedp.EvalAwaitPromise))
	require.NoError(b, err)
	var violations []any
	require.NoError(b, json.Unmarshal([]byte(found), &violations))
	require.Empty(b, violations, "%s: %s", b.path(), found)
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

// TestRoundInABrowser goes the whole way by hand: submit, dispute, return, answer, confirm, redetermine, read the
// history. Every page on the way is looked at by axe.
func TestRoundInABrowser(t *testing.T) {
	data := newClub(t)
	p := startProgram(t, "serve", "--insecure", "--data", data, "--addr", "127.0.0.1:0")
	b := openBrowser(t, p.address)
	b.open("/login")
	b.accessible()

	b.login("member")
	b.accessible()
	submission := b.submit()
	b.accessible()
	require.Contains(t, b.text(), "Elateridae")

	b.login("reviewer")
	b.open("/queue")
	require.Contains(t, b.text(), "T-1")
	b.accessible()
	b.review(submission, "filiform", "left-open")
	require.Contains(t, b.text(), "Better: thread-like", "the dispute is shown to who made it")
	b.returnFor(submission, "antenna")

	b.login("member")
	b.open(submission)
	require.Contains(t, b.text(), "Count the segments again")
	b.answer(submission)

	b.login("reviewer")
	b.review(submission, "", "agrees")
	b.login("second")
	b.open(submission)
	require.NotContains(t, b.text(), "Look at the last segments", "others' notes are closed until one's own are saved")
	b.review(submission, "", "agrees")
	b.open(submission)
	require.Contains(t, b.text(), "confirmed")
	b.accessible()

	b.login("curator")
	b.open(submission)
	next := b.redetermine()
	require.NotEqual(t, submission, next)
	b.open(submission + "/history")
	for _, step := range []string{"Test member", "Test reviewer", "Test second", "Test curator", "Buprestidae", "The spine is glued"} {
		require.Contains(t, b.text(), step)
	}
	b.accessible()
	for _, page := range []string{"/", "/submissions", "/tables", "/tables/coleoptera-adults", "/tables/coleoptera-adults/sheets/Elateridae",
		"/tables/coleoptera-adults/characters/antenna-form", "/tables/coleoptera-adults/compare?a=Elateridae&b=Buprestidae",
		"/tables/coleoptera-adults/changes/new?family=Elateridae&character=antenna-form", "/policy"} {
		b.open(page)
		b.accessible()
	}
	chance := newChance(t, p)
	b.login("reviewer")
	b.lookBlind(chance.asked(t))
	b.recheck(chance.closed(t))
	b.login("curator")
	for _, page := range []string{"/", submission, "/tables/coleoptera-adults/sheets/Elateridae"} {
		b.open(page)
		b.fits()
	}
}

// lookBlind says what one character looks like, before anything else of a submission is shown.
func (b *browser) lookBlind(submission string) {
	b.Helper()
	b.open("/queue")
	require.Contains(b, b.text(), "to be looked at blind")
	b.accessible()
	b.open(submission)
	require.Equal(b, submission+"/blind", b.path())
	require.NotContains(b, b.text(), "Elateridae")
	b.accessible()
	b.press("Save what I see")
	require.Contains(b, b.text(), "Nothing was stored")
	b.accessible()
	b.fits()
	b.script(`(e => { if (e.type === "radio") { e.click(); } else { e.value = "5"; } })(document.getElementsByName("state")[0])`)
	b.press("Save what I see")
	require.Equal(b, submission+"/review?looked=blind", b.path())
	require.Contains(b, b.text(), "your blind look is saved")
	require.Contains(b, b.text(), "Elateridae")
	b.accessible()
}

// recheck names a closed determination from its photos.
func (b *browser) recheck(submission string) {
	b.Helper()
	b.open(submission + "/history")
	require.Equal(b, submission+"/blind", b.path())
	b.accessible()
	b.press("Save my answer")
	require.Contains(b, b.text(), "write a name")
	b.accessible()
	b.fits()
	b.fill("named", "Buprestidae")
	b.press("Save my answer")
	require.Contains(b, b.text(), "your answer is saved")
	require.Contains(b, b.text(), "Looked at again, blind")
	b.accessible()
}

// fits requires that the page needs no scrolling sideways on a phone.
func (b *browser) fits() {
	b.Helper()
	b.do(chromedp.EmulateViewport(320, 640))
	wide, err := chromedp.Run(b.ctx, chromedp.Evaluate[int](`document.documentElement.scrollWidth`))
	require.NoError(b, err)
	require.LessOrEqual(b, wide, 320, "%s scrolls sideways on a phone", b.path())
	b.do(chromedp.EmulateViewport(1280, 900))
}

// clickCharacters are those of a click beetle, common practice, no source.
var clickCharacters = map[string]string{"prosternal-process": "click-spine", "antenna-form": "serrate", "pronotum-hind-corners": "pointed",
	"hind-coxal-plates": "narrow", "ventrites": "5", "tarsi-counted": "5-5-5", "elytra-cover": "whole", "antenna-segments": "11", "labrum": "visible"}

func (b *browser) submit() (path string) {
	b.Helper()
	b.open("/submissions/new")
	b.accessible()
	b.open("/submissions/new?group=coleoptera-adults")
	b.accessible()
	b.press("Submit for review")
	require.Contains(b, b.text(), "Nothing was stored")
	b.accessible()
	b.choosePhoto("whole-below")
	b.fill("label.catalogue_number", "T-1 <em>")
	b.fill("family", "Elateridae")
	for character, state := range clickCharacters {
		if character == "ventrites" || character == "antenna-segments" {
			b.fill("obs["+character+"].state", state)
			continue
		}
		b.choose("obs["+character+"].state", state)
	}
	b.press("Submit for review")
	require.Contains(b, b.text(), "T-1 <em>", "typed markup is text")
	return b.path()
}

// choosePhoto gives the form a drawn picture and says what it shows.
func (b *browser) choosePhoto(view string) {
	b.Helper()
	file := filepath.Join(b.TempDir(), "beetle.jpg")
	require.NoError(b, os.WriteFile(file, drawnPicture(b.T, view), 0o600))
	b.do(chromedp.SetUploadFiles(chromedp.CSS(`input[type=file]`), []string{file}))
	b.wait(`document.querySelector("[data-photo] select")`)
	b.script(`(e => { e.value = %q; })(document.querySelector("[data-photo] select"))`, view)
}

func (b *browser) review(submission, better, opinion string) {
	b.Helper()
	b.open(submission + "/review")
	b.accessible()
	b.script(`document.querySelectorAll("input[type=radio][value=confirm]").forEach(e => e.click())`)
	if better != "" {
		b.script(`(s => { const row = s.closest("[data-verdict], article, li, fieldset, tr"); s.value = %q;
			[...document.getElementsByName(s.name.replace(".better", ".kind"))].find(e => e.value === "dispute").click();
			document.getElementsByName(s.name.replace(".better", ".note"))[0].value = "Look at the last segments"; })(
			[...document.querySelectorAll("select[name$='.better']")].find(s => [...s.options].some(o => o.value === %q)))`, better, better)
	}
	b.choose("opinion.kind", opinion)
	b.press("Save my verdicts")
	require.Equal(b, submission, strings.Split(b.path(), "#")[0])
}

func (b *browser) returnFor(submission, view string) {
	b.Helper()
	b.open(submission)
	b.script(`document.querySelectorAll("details").forEach(e => { e.open = true; })`)
	b.choose("want", "photo")
	b.script(`(e => { e.value = %q; })(document.querySelector("form[action$='/return'] [name=view]"))`, view)
	b.script(`(e => { e.value = "Count the segments again, please."; })(document.querySelector("form[action$='/return'] [name=text]"))`)
	b.press("Return it")
	require.Contains(b, b.text(), "returned")
}

func (b *browser) answer(submission string) {
	b.Helper()
	b.open(submission + "/answer")
	b.accessible()
	b.choosePhoto("antenna")
	b.fill("text", "Eleven, and each with a sharp corner.")
	b.press("Send the answer")
	require.Contains(b, b.text(), "Eleven, and each with a sharp corner.")
}

func (b *browser) redetermine() (path string) {
	b.Helper()
	b.script(`document.querySelectorAll("details").forEach(e => { e.open = true; })`)
	b.script(`(f => { f.querySelector("[name=family]").value = "Buprestidae"; f.querySelector("[name=reason]").value = "The spine is glued in."; })(document.querySelector("form[action$='/redetermine']"))`)
	b.press("Redetermine it")
	require.Contains(b, b.text(), "Buprestidae")
	return b.path()
}

package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// TestRoundInABrowser goes the whole way by hand: submit, dispute, return, answer, confirm, redetermine, read the
// history. Every page on the way is looked at by axe, and must fit a phone.
func TestRoundInABrowser(t *testing.T) {
	t.Parallel()
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
		"/tables/coleoptera-adults/parts", "/tables/coleoptera-adults/parts?character=first-ventrite", "/tables/coleoptera-adults/parts?part=claws",
		"/tables/coleoptera-adults/glossary",
		"/tables/coleoptera-adults/changes/new?family=Elateridae&character=antenna-form", "/policy", "/news", "/mail"} {
		b.open(page)
		b.accessible()
	}
	chance := newChance(t, p)
	b.login("reviewer")
	b.lookBlind(chance.asked(t))
	b.recheck(chance.closed(t))
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
	b.fill("named", "Buprestidae")
	b.press("Save my answer")
	require.Contains(b, b.text(), "your answer is saved")
	require.Contains(b, b.text(), "Looked at again, blind")
	b.accessible()
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
		b.script(`(state => { state.click();
			document.getElementsByName(state.name.replace(".better", ".note"))[0].value = "Look at the last segments"; })(
			document.querySelector("input[name$='.better'][value=%s]"))`, better)
	}
	b.choose("opinion.kind", opinion)
	b.press("Save my verdicts")
	require.Equal(b, "/queue?saved="+strings.TrimPrefix(submission, "/submissions/"), b.path(), "nothing else waits")
	require.Contains(b, b.text(), "Saved.")
	b.accessible()
	b.open(submission)
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

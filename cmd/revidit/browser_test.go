package main

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// jobsDone counts how often each of the three jobs was done from the login to the settled slip.
type jobsDone struct{ member, reviewer, curator atomic.Int32 }

// TestJobsInABrowser goes the whole way by hand, with the scripts of the pages and without: submit, dispute, return, answer, confirm,
// redetermine, confirm, read the history.
func TestJobsInABrowser(t *testing.T) {
	t.Parallel()
	var done jobsDone
	ways := map[string]bool{"with script": true, "without": false}
	t.Run("ways", func(t *testing.T) {
		for way, scripts := range ways {
			t.Run(way, func(t *testing.T) {
				t.Parallel()
				p := startProgram(t, "serve", "--insecure", "--data", newClub(t), "--addr", "127.0.0.1:0")
				b := openBrowser(t, p.address)
				b.without(!scripts)
				b.round(p, scripts, &done)
			})
		}
	})
	jobs := 0
	for _, n := range []int32{done.member.Load(), done.reviewer.Load(), done.curator.Load()} {
		if int(n) == len(ways) {
			jobs++
		}
	}
	fmt.Printf("jobs=%d\n", jobs)
	require.Equal(t, 3, jobs)
}

func (b *browser) round(p *program, scripts bool, done *jobsDone) {
	b.Helper()
	b.login("member")
	submission := ""
	if scripts {
		b.accessible() // nothing is there yet
		submission = b.submit()
	} else {
		submission = b.answerQuestions()
	}
	require.Contains(b, b.text(), "Elateridae")

	b.login("reviewer")
	b.open("/queue")
	require.Contains(b, b.text(), "T-1")
	b.review(submission, true, "left-open")
	require.Contains(b, b.text(), "Better:", "the dispute is shown to who made it")
	b.returnFor(submission, "antenna")

	b.login("member")
	b.open(submission)
	require.Contains(b, b.text(), "Count the segments again")
	b.answer(submission, scripts)

	b.login("reviewer")
	b.review(submission, false, "agrees")
	b.login("second")
	b.open(submission)
	require.NotContains(b, b.text(), "Look at the last segments", "others' notes are closed until one's own are saved")
	b.review(submission, false, "agrees")
	b.settled(submission, "Elateridae", "member")
	b.login("reviewer")
	b.settled(submission, "Elateridae", "member")
	done.reviewer.Add(1)
	b.login("member")
	b.settled(submission, "Elateridae", "member")
	done.member.Add(1)

	wrong := wrongName(b.T, p)
	b.login("curator")
	require.Contains(b, b.text(), "T-2", "home says what is doubtful")
	b.open(wrong)
	next := b.redetermine()
	require.NotEqual(b, wrong, next)
	for _, login := range []string{"reviewer", "second"} {
		agreeBy(b.T, p, login, next)
	}
	b.settled(next, "Elateridae", "curator")
	for page, steps := range map[string][]string{wrong: {"Test member", "Test curator", "Buprestidae", "It has a spine"}, next: {"Test curator", "Test reviewer", "Test second"}} {
		b.open(page + "/history")
		for _, step := range steps {
			require.Contains(b, b.text(), step)
		}
	}
	done.curator.Add(1)
}

// settled requires that the name stands, with who determined it, as it is printed on a slip.
func (b *browser) settled(submission, name, determiner string) {
	b.Helper()
	b.open(submission)
	require.Contains(b, b.text(), "Confirmed.")
	require.Regexp(b, "(?s)"+name+".*det\\. Test "+determiner+", [0-9]", b.text())
}

// wrongName is the page of a click beetle that a member takes for a jewel beetle.
func wrongName(t *testing.T, p *program) string {
	t.Helper()
	member := loginClient(t, p, "member")
	form := clickBeetle("T-2", member.upload(t, drawnPicture(t, "whole-below")))
	form["family"], form["observations"] = "Buprestidae", benchCharacters
	var made struct{ Submission struct{ ID string } }
	status, err := member.send("POST", "/submissions", form, nil, &made)
	require.NoError(t, err)
	require.Equal(t, http.StatusCreated, status)
	return "/submissions/" + made.Submission.ID
}

// agreeBy confirms everything that is stated, and the name.
func agreeBy(t *testing.T, p *program, login, submission string) {
	t.Helper()
	c := loginClient(t, p, login)
	var view struct{ Submission struct{ Cites []string } }
	status, err := c.do("GET", submission, "", nil, nil, &view)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, status)
	var verdicts []map[string]string
	for _, cited := range view.Submission.Cites {
		verdicts = append(verdicts, map[string]string{"observation": cited, "kind": "confirm"})
	}
	status, err = c.send("POST", submission+"/reviews", map[string]any{"verdicts": verdicts,
		"opinion": map[string]string{"kind": "agrees", "basis": "photos"}}, nil, nil)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, status)
}

// TestBlindInABrowser: who is drawn looks before anything is shown, at what is open and at what is closed.
func TestBlindInABrowser(t *testing.T) {
	t.Parallel()
	p := startProgram(t, "serve", "--insecure", "--data", newClub(t), "--addr", "127.0.0.1:0")
	b := openBrowser(t, p.address)
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
	b.open(submission)
	require.Equal(b, submission+"/blind", b.path())
	require.NotContains(b, b.text(), "Elateridae")
	b.press("Save what I see")
	require.Contains(b, b.text(), "Nothing was stored")
	b.accessible()
	b.script(`(e => { if (e.type === "radio") { e.click(); } else { e.value = "5"; } })(document.getElementsByName("state")[0])`)
	b.press("Save what I see")
	require.Equal(b, submission+"/review?looked=blind", b.path())
	require.Contains(b, b.text(), "your blind look is saved")
	require.Contains(b, b.text(), "Elateridae")
}

// recheck names a closed determination from its photos.
func (b *browser) recheck(submission string) {
	b.Helper()
	b.open(submission + "/history")
	require.Equal(b, submission+"/blind", b.path())
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

// submit fills in the full list.
func (b *browser) submit() (path string) {
	b.Helper()
	b.open("/submissions/new?group=coleoptera-adults")
	b.press("Submit for review")
	require.Contains(b, b.text(), "Nothing was stored")
	b.accessible()
	b.choosePhoto("whole-below", true)
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

// answerQuestions submits what is asked one question after another, without the scripts of the pages.
func (b *browser) answerQuestions() (path string) {
	b.Helper()
	b.open("/submissions/begin?group=coleoptera-adults")
	b.choosePhoto("whole-below", false)
	b.fill("label.catalogue_number", "T-1 <em>")
	b.fill("family", "Elateridae")
	b.press("Begin", "Go on")
	tables := diagnosis.Default()
	for stated := 0; stated < len(clickCharacters); {
		if strings.Contains(b.path(), "group=") {
			b.pressOn(`document.querySelector("button.answer")`)
			continue
		}
		character := strings.Split(strings.Split(b.path(), "character=")[1], "&")[0]
		state := usual(b.T, tables, "Elateridae", character)
		if c, _ := tables.Character(character); c.Kind == diagnosis.KindLength {
			b.fill("number", state)
			b.pressOn(`document.querySelector("button[value=number]")`)
		} else {
			b.pressOn(fmt.Sprintf(`[...document.querySelectorAll("button.answer")].find(e => e.value === "state:%s")`, state))
		}
		stated++
	}
	b.press("Submit for review")
	require.Contains(b, b.text(), "T-1 <em>", "typed markup is text")
	return b.path()
}

// choosePhoto gives the form a drawn picture and says what it shows. With the scripts of the pages it goes up by itself.
func (b *browser) choosePhoto(view string, scripts bool) {
	b.Helper()
	file := filepath.Join(b.TempDir(), "beetle.jpg")
	require.NoError(b, os.WriteFile(file, drawnPicture(b.T, view), 0o600))
	b.do(chromedp.SetUploadFiles(chromedp.CSS(`input[type=file]`), []string{file}))
	if !scripts {
		b.press("Upload the chosen photos now")
	}
	b.wait(`document.querySelector("[data-photo] select")`)
	b.script(`(e => { e.value = %q; })(document.querySelector("[data-photo] select"))`, view)
}

// review confirms every character, but the first that can be another state where one is to be disputed.
func (b *browser) review(submission string, dispute bool, opinion string) {
	b.Helper()
	b.open(submission + "/review")
	b.script(`document.querySelectorAll("input[type=radio][value=confirm]").forEach(e => e.click())`)
	if dispute {
		b.script(`(line => {
			line.querySelector("input[value=dispute]").click();
			const better = [...line.querySelectorAll(".better input[type=radio]")].find(e => e.value !== "");
			better.click();
			document.getElementsByName(better.name.replace(".better", ".note"))[0].value = "Look at the last segments";
		})([...document.querySelectorAll("[data-line]")].find(e => e.querySelector(".better input[type=radio]")))`)
	}
	b.choose("opinion.kind", opinion)
	b.press("Save my verdicts")
	require.Equal(b, "/queue?saved="+strings.TrimPrefix(submission, "/submissions/"), b.path(), "nothing else waits")
	require.Contains(b, b.text(), "Saved.")
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

func (b *browser) answer(submission string, scripts bool) {
	b.Helper()
	b.open(submission + "/answer")
	b.choosePhoto("antenna", scripts)
	b.fill("text", "Eleven, and each with a sharp corner.")
	b.press("Send the answer")
	require.Contains(b, b.text(), "Eleven, and each with a sharp corner.")
}

func (b *browser) redetermine() (path string) {
	b.Helper()
	b.script(`document.querySelectorAll("details").forEach(e => { e.open = true; })`)
	b.script(`(f => { f.querySelector("[name=family]").value = "Elateridae"; f.querySelector("[name=reason]").value = "It has a spine in a pit."; })(document.querySelector("form[action$='/redetermine']"))`)
	b.press("Redetermine it")
	require.Contains(b, b.text(), "Elateridae")
	return b.path()
}

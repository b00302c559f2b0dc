package main

import (
	"context"
	"fmt"
	"net/http"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

// benchCharacters are fourteen of a click beetle, common practice, no source.
var benchCharacters = []observation{{"character": "prosternal-process", "state": "click-spine"}, {"character": "antenna-form", "state": "serrate"},
	{"character": "pronotum-hind-corners", "state": "pointed"}, {"character": "hind-coxal-plates", "state": "narrow"}, {"character": "ventrites", "state": "5"},
	{"character": "tarsi-counted", "state": "5-5-5"}, {"character": "elytra-cover", "state": "whole"}, {"character": "antenna-segments", "state": "11"},
	{"character": "labrum", "state": "visible"}, {"character": "rostrum", "state": "none"}, {"character": "scutellum", "state": "visible"},
	{"character": "body-form", "state": "parallel"}, {"character": "eyes", "state": "entire"}, {"character": "body-length-mm", "state": "11"}}

// benched puts a click beetle with fourteen marked characters before reviewers.
func benched(t *testing.T, member *client, number string) (submission string) {
	t.Helper()
	photo := member.upload(t, drawnPicture(t, "whole-below"))
	form := clickBeetle(number, photo)
	var stated []map[string]any
	for i, o := range benchCharacters {
		stated = append(stated, map[string]any{"character": o["character"], "state": o["state"], "photo": photo,
			"region": map[string]any{"x": 0.05 * float64(i), "y": 0.3, "w": 0.2, "h": 0.25}})
	}
	form["observations"] = stated
	var made struct{ Submission struct{ ID string } }
	status, err := member.send("POST", "/submissions", form, nil, &made)
	require.NoError(t, err)
	require.Equal(t, http.StatusCreated, status)
	return made.Submission.ID
}

// keyboard presses keys one by one and counts them; a key with Ctrl held is one.
type keyboard struct {
	*browser
	pressed int
}

// pace is the time between two keys where it is measured: quicker than people are, common practice, no source.
const pace = 60 * time.Millisecond

func (k *keyboard) press(text string) {
	k.Helper()
	for _, r := range text {
		k.pressed++
		k.do(chromedp.KeyEvent(string(r)))
		if os.Getenv(measured) != "" {
			time.Sleep(pace)
		}
	}
}

// save presses Ctrl and Enter, answers the question where one is asked, and waits for what comes next.
func (k *keyboard) save(asked bool) {
	k.Helper()
	k.pressed++
	k.leave(chromedp.KeyEvent(kb.Enter, chromedp.KeyModifiers(chromedp.ModifierCtrl)))
	if asked {
		k.wait(`document.querySelector("dialog[data-question]:modal")`)
		k.pressed++
		k.leave(chromedp.KeyEvent(kb.Enter))
	}
}

// leave does what leads to another page, and waits until that is there.
func (b *browser) leave(act chromedp.Action[chromedp.Void]) {
	b.Helper()
	b.script(`window.leaving = true`)
	b.do(act)
	b.wait(`!window.leaving && document.readyState === "complete"`)
}

// timed notes in the page how long it is from the key of a verdict to the end of the frame that shows it. What a task behind
// requestAnimationFrame sees has been painted.
const timed = `(() => {
	window.took = [];
	addEventListener("keydown", (event) => {
		if (!/^[1-5]$/.test(event.key)) return;
		requestAnimationFrame(() => {
			const after = new MessageChannel();
			after.port1.onmessage = () => window.took.push(performance.now() - event.timeStamp);
			after.port2.postMessage(0);
		});
	}, true);
})()`

func evaluated[T any](b *browser, script string) T {
	b.Helper()
	value, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](script))
	require.NoError(b, err)
	return value
}

func p95(values []float64) float64 {
	slices.Sort(values)
	return values[min(len(values)*95/100, len(values)-1)]
}

// measured makes tests in a browser as long as their figures need, with nothing beside them: deploy/check.sh browser sets it.
const measured = "REVIDIT_BROWSER"

// TestReviewsWithoutTheMouse: by keys alone, each third in six of them (the deciding characters and the name), the others
// whole; the next one comes by itself, and what nobody looked at has no verdict. It prints how many keys and pixels it took, and
// how long: of thirty where it is measured, else of three. It takes the processor, so that nothing of this package runs beside it.
func TestReviewsWithoutTheMouse(t *testing.T) {
	reviews := 30
	if os.Getenv(measured) == "" {
		reviews = 3
	}
	p := startProgram(t, "serve", "--insecure", "--data", newClub(t), "--addr", "127.0.0.1:0")
	member, reviewer := loginClient(t, p, "member"), loginClient(t, p, "reviewer")
	var submissions []string
	for i := range reviews {
		submissions = append(submissions, benched(t, member, fmt.Sprintf("K-%02d", i+1)))
	}
	b := openBrowser(t, p.address)
	b.login("reviewer")
	b.open("/queue/next")
	var took, turned []float64
	quick, whole, height := 0, 0, 0
	given := map[string]int{}
	for i := range reviews {
		b.wait(`document.querySelector("[data-bench]") && document.querySelector(".stage img").complete`)
		b.script(timed)
		submission := strings.Split(strings.TrimPrefix(b.path(), "/submissions/"), "/")[0]
		height = max(height, evaluated[int](b, `document.documentElement.scrollHeight`))
		deciding := evaluated[int](b, `document.querySelectorAll("section[aria-labelledby=deciding] [data-line]").length`)
		require.LessOrEqual(t, deciding, 3)
		require.GreaterOrEqual(t, deciding, 1)
		k := &keyboard{browser: b}
		if i%3 == 2 {
			k.press(strings.Repeat("1", deciding) + "1")
			given[submission] = deciding
			took = append(took, evaluated[[]float64](b, `window.took`)...)
			k.save(true)
			quick = max(quick, k.pressed)
		} else {
			k.press(strings.Repeat("1", deciding) + "1" + kb.Enter + strings.Repeat("1", 10-deciding) + "2") // the eleventh is disputed
			b.wait(`document.activeElement.closest("[data-line], .better")`)
			if evaluated[bool](b, `document.activeElement.matches("input")`) {
				k.press("7" + kb.Enter) // a number
			} else {
				k.press("a")
			}
			k.press("111")
			given[submission] = len(benchCharacters)
			took = append(took, evaluated[[]float64](b, `window.took`)...)
			k.save(false)
			if evaluated[bool](b, `!!document.querySelector("dialog[data-question]")`) { // the dispute may speak against the name
				k.pressed++
				k.leave(chromedp.KeyEvent(kb.Enter))
			}
			whole = max(whole, k.pressed)
		}
		turned = append(turned, evaluated[float64](b, `performance.getEntriesByType("navigation")[0].domContentLoadedEventEnd`))
	}
	require.Contains(t, b.path(), "/queue?saved=")
	require.Len(t, given, reviews)
	for _, id := range submissions {
		var view struct {
			Submission struct {
				Verdicts []struct{ Kind, Better string }
				Opinions []struct{ Kind string }
			}
		}
		status, err := reviewer.do("GET", "/submissions/"+id, "", nil, nil, &view)
		require.NoError(t, err)
		require.Equal(t, http.StatusOK, status)
		require.Len(t, view.Submission.Verdicts, given[id])
		require.Len(t, view.Submission.Opinions, 1)
	}
	require.LessOrEqual(t, quick, 6, "name, rank, basis and the deciding characters, saved")
	require.LessOrEqual(t, whole, 20, "fourteen characters and the name, saved")
	require.LessOrEqual(t, height, 1600, "at 1280 x 900")
	require.GreaterOrEqual(t, len(took), reviews)
	fmt.Printf("verdict_p95_ms=%.0f quick_keys=%d review_keys=%d review_px=%d next_p95_ms=%.0f\n", p95(took), quick, whole, height, p95(turned))
}

// without switches the scripts of pages off, or on again.
func (b *browser) without(scripts bool) {
	b.Helper()
	b.do(func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		return chromedp.Void{}, t.Call(ctx, "Emulation.setScriptExecutionDisabled", map[string]any{"value": scripts}, nil)
	})
}

// TestBenchInABrowser: zoom, turn, marks and measure; the question; a phone; and all of it without script.
func TestBenchInABrowser(t *testing.T) {
	t.Parallel()
	p := startProgram(t, "serve", "--insecure", "--data", newClub(t), "--addr", "127.0.0.1:0")
	member, reviewer := loginClient(t, p, "member"), loginClient(t, p, "reviewer")
	first, second := benched(t, member, "B-1"), benched(t, member, "B-2")
	b := openBrowser(t, p.address)
	b.login("reviewer")
	b.open("/submissions/" + first + "/review")
	where := func() string { return evaluated[string](b, `document.querySelector(".stage > div").style.transform`) }
	whole := where()
	for _, key := range []string{"+", "r", "+", "0"} {
		before := where()
		b.do(chromedp.KeyEvent(key))
		require.NotEqual(t, before, where(), key)
	}
	b.do(chromedp.KeyEvent("rrr"))
	require.Equal(t, whole, where(), "turned round, whole")
	b.do(chromedp.KeyEvent("m"))
	require.True(t, evaluated[bool](b, `getComputedStyle(document.querySelector(".stage .mark")).display === "none"`))
	b.do(chromedp.KeyEvent("mk"))
	b.wait(fmt.Sprintf(`document.querySelector(".stage > div").style.transform !== %q`, whole)) // the photo follows the line
	require.True(t, evaluated[bool](b, `!!document.querySelector(".stage .mark.now")`))

	// A bar of 100 px in the photo is told to be 5 mm, and 200 px of it are measured.
	b.do(chromedp.KeyEvent("0"))
	b.script(`document.querySelector("[data-do=measure]").click()`)
	put := func(x, y float64) {
		at := evaluated[[]float64](b, fmt.Sprintf(`(() => { const f = document.querySelector(".stage img").getBoundingClientRect(); return [f.left + f.width * %g / 480, f.top + f.height * %g / 360]; })()`, x, y))
		b.do(chromedp.MouseClickXY(at[0], at[1]))
	}
	put(100, 50)
	put(200, 50)
	b.do(chromedp.KeyEvent("5" + kb.Enter))
	put(100, 100)
	put(300, 100)
	b.wait(`/^(9\.9\d?|10|10\.\d) mm/.test(document.querySelector(".tools output").textContent)`)
	b.script(`[...document.querySelectorAll(".tools output button")].find(e => e.textContent.startsWith("Take for")).click()`)
	require.True(t, evaluated[bool](b, `(line => line.querySelector("input[value=dispute]").checked && Math.abs(line.querySelector(".better input").value - 10) < 0.2)(document.querySelector("[data-measured]"))`))
	b.accessible()

	b.do(chromedp.KeyEvent("?"))
	b.script(`document.querySelector("[data-save]").click()`)
	b.wait(`document.querySelector("dialog[data-question]:modal")`)
	require.Contains(t, b.text(), "You have looked at 1 of 14 characters")
	b.accessible()
	b.script(`document.querySelector("[data-leave]").click()`)
	b.wait(`!document.querySelector("dialog[open]")`)
	require.True(t, evaluated[bool](b, `document.querySelector("[data-measured] input[value=dispute]").checked`), "what was chosen stays")

	b.without(true)
	b.open("/submissions/" + second + "/review")
	b.fits() // axe is a script itself
	require.True(t, evaluated[bool](b, `document.querySelector(".plates img").getBoundingClientRect().width > 300`), "the photos stand in the page")
	require.True(t, evaluated[bool](b, `getComputedStyle(document.querySelector(".better")).display === "none"`))
	b.script(`document.querySelector("[data-line] input[value=dispute]").click()`)
	require.True(t, evaluated[bool](b, `getComputedStyle(document.querySelector("[data-line] .better")).display !== "none"`), "what is seen instead comes after a dispute")
	b.script(`(e => e.click())(document.querySelectorAll("[data-line] .better input[type=radio]")[1])`)
	b.choose("opinion.kind", "left-open")
	b.press("Save my verdicts")
	require.Contains(t, b.text(), "You have looked at 1 of 14 characters")
	b.press("Save it so")
	require.Contains(t, b.path(), first+"/review?saved="+second, "the next one")
	require.Contains(t, b.text(), "Saved.")
	b.without(false)
	var view struct {
		Submission struct {
			Verdicts []struct{ Kind, Better string }
		}
	}
	_, err := reviewer.do("GET", "/submissions/"+second, "", nil, nil, &view)
	require.NoError(t, err)
	require.Len(t, view.Submission.Verdicts, 1)
	require.Equal(t, "dispute", view.Submission.Verdicts[0].Kind)
	require.NotEmpty(t, view.Submission.Verdicts[0].Better)
}

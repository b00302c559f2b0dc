package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// Limits of the form that asks one question after another, for eight characters with three rectangles.
const (
	mostMemberClicks = 15
	mostMemberWords  = 250
	mostMemberTime   = 2 * time.Minute
)

// hand fills in a form as somebody with a mouse and a keyboard does, and counts. A click is a press of a mouse button, a drag
// is one, too; keys are no clicks. Words are those that stand in the content of a page, not folded away and not in the
// frame around it, that stood on no page before: what stays the same is read once.
type hand struct {
	*browser
	clicks, words int
	read          map[string]bool
}

// visibleTexts are the texts of the content that can be seen without opening or choosing anything.
const visibleTexts = `(() => {
	const texts = [], walker = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
	while (walker.nextNode()) {
		const parent = walker.currentNode.parentElement;
		if (parent.closest("option, datalist, noscript, script, .hidden-words") || !parent.checkVisibility()) continue;
		const text = walker.currentNode.textContent.trim();
		if (text) texts.push(text);
	}
	return JSON.stringify(texts);
})()`

func (h *hand) look() {
	h.Helper()
	found, err := chromedp.Run(h.ctx, chromedp.Evaluate[string](visibleTexts))
	require.NoError(h, err)
	var texts []string
	require.NoError(h, json.Unmarshal([]byte(found), &texts))
	for _, text := range texts {
		if !h.read[text] {
			h.read[text] = true
			h.words += len(strings.Fields(text))
		}
	}
}

// place is the middle of the first element that a JavaScript expression finds, in the window.
func (h *hand) place(element string) (x, y, w float64) {
	h.Helper()
	found, err := chromedp.Run(h.ctx, chromedp.Evaluate[[]float64](fmt.Sprintf(`(e => { e.scrollIntoView({block: "center", behavior: "instant"});
		const r = e.getBoundingClientRect(); return [r.left + r.width / 2, r.top + r.height / 2, r.width]; })(%s)`, element)))
	require.NoError(h, err, element)
	return found[0], found[1], found[2]
}

// click presses the mouse on an element, no sooner than a page takes a press for its own (pages.js); where that leads to another page,
// it waits for it.
func (h *hand) click(element string, leads bool) {
	h.Helper()
	h.wait(`performance.now() > 300`)
	x, y, _ := h.place(element)
	h.script(`window.leaving = true`)
	h.do(chromedp.MouseClickXY(x, y))
	h.clicks++
	if leads {
		h.wait(`!window.leaving && document.readyState === "complete"`)
	}
}

// drag draws a rectangle on an element.
func (h *hand) drag(element string) {
	h.Helper()
	x, y, w := h.place(element)
	h.do(chromedp.MouseEvent("mousePressed", x-w/6, y-w/12, chromedp.ButtonLeft, chromedp.ClickCount(1)),
		chromedp.MouseEvent("mouseMoved", x, y, chromedp.ButtonLeft),
		chromedp.MouseEvent("mouseMoved", x+w/6, y+w/12, chromedp.ButtonLeft),
		chromedp.MouseEvent("mouseReleased", x+w/6, y+w/12, chromedp.ButtonLeft, chromedp.ClickCount(1)))
	h.clicks++
}

// usual is the state that a family shows most often.
func usual(t *testing.T, tables *diagnosis.Tables, family, character string) string {
	c, ok := tables.Character(character)
	require.True(t, ok, character)
	f, _ := tables.Family(family)
	if c.Kind == diagnosis.KindLength {
		return "12"
	}
	best, most := "", -1.0
	for i, s := range c.States {
		if share, known := f.Share(character, i); known && share > most {
			best, most = s.ID, share
		}
	}
	return best
}

// TestAMemberIsAskedOneQuestionAfterAnother goes from the opened form to the submission with real presses of the mouse, and counts
// them and the words that are to be read. How long it takes is reckoned: 238 words a minute of silent reading (Brysbaert 2019,
// Journal of Memory and Language 109: 104047), and for each click 1.35 s to decide, 1.1 s to point and 0.2 s to press (Card, Moran
// and Newell 1980, Communications of the ACM 23: 396-410, the keystroke-level model).
func TestAMemberIsAskedOneQuestionAfterAnother(t *testing.T) {
	t.Parallel()
	p := startProgram(t, "serve", "--insecure", "--data", newClub(t), "--addr", "127.0.0.1:0")
	b := openBrowser(t, p.address)
	b.login("member")
	b.open("/submissions/begin?group=coleoptera-adults")
	h := &hand{browser: b, read: map[string]bool{}}
	h.look()

	// The window of the system in which a file is chosen cannot be driven; to open it is a click.
	file := filepath.Join(t.TempDir(), "beetle.jpg")
	require.NoError(t, os.WriteFile(file, drawnPicture(t, "whole-below"), 0o600))
	h.clicks++
	h.do(chromedp.SetUploadFiles(chromedp.CSS(`input[type=file]`), []string{file}))
	h.wait(`document.querySelector("[data-photo] select")`)
	h.look()
	// A list that is opened and chosen from: two presses.
	h.clicks += 2
	h.script(`(e => { e.value = "whole-below"; e.dispatchEvent(new Event("change", {bubbles: true})); e.focus(); })(document.querySelector("[data-photo] select"))`)
	b.accessible()
	b.fill("label.catalogue_number", "G-1") // with the tabulator
	b.fill("family", "clik beetle")
	b.script(`document.getElementsByName("family")[0].focus()`)
	h.script(`window.leaving = true`)
	b.do(chromedp.KeyEvent("\r"))
	h.wait(`!window.leaving && document.readyState === "complete"`)
	meant, meantWords := h.clicks, h.words
	h.look()
	require.Contains(t, b.text(), "Which name do you mean?")
	b.accessible()
	h.click(`[...document.querySelectorAll("button")].find(e => e.value === "Elateridae")`, true)
	spelling, spellingWords := h.clicks-meant, h.words-meantWords // the price of a slip of the finger

	tables := diagnosis.Default()
	newcomer, newcomerWords, characters, drawn := 0, 0, 0, 0
	for characters < 8 {
		before := h.words
		h.look()
		if strings.Contains(b.path(), "group=") {
			at := h.clicks
			h.click(`document.querySelector("button.answer")`, true)
			newcomer, newcomerWords = newcomer+h.clicks-at, newcomerWords+h.words-before
			continue
		}
		if drawn < 3 {
			h.drag(`document.querySelector("[data-draw-on]")`)
			drawn++
			b.wait(`document.querySelector("[data-side=width]").value !== ""`)
		}
		character := strings.Split(strings.Split(b.path(), "character=")[1], "&")[0]
		state := usual(t, tables, "Elateridae", character)
		if c, _ := tables.Character(character); c.Kind == diagnosis.KindLength {
			b.fill("number", state)
			h.click(`document.querySelector("button[value=number]")`, true)
		} else {
			h.click(fmt.Sprintf(`[...document.querySelectorAll("button.answer")].find(e => e.value === "state:%s")`, state), true)
		}
		characters++
	}
	h.look()
	h.click(`[...document.querySelectorAll("button")].find(e => e.textContent.trim() === "Submit for review")`, true)
	require.Contains(t, b.text(), "G-1")
	require.Contains(t, b.text(), "Open.")
	shown, err := chromedp.Run(b.ctx, chromedp.Evaluate[int](`document.querySelectorAll(".plate .mark rect").length / 2`))
	require.NoError(t, err)
	require.Equal(t, 3, shown, "three rectangles")

	clicks, words := h.clicks-newcomer-spelling, h.words-newcomerWords-spellingWords
	took := time.Duration(float64(words)/238*float64(time.Minute)) + time.Duration(float64(clicks)*(1.35+1.1+0.2)*float64(time.Second))
	fmt.Printf("member_clicks=%d words=%d seconds=%.0f newcomer_clicks=%d newcomer_words=%d slip_clicks=%d slip_words=%d\n",
		clicks, words, took.Seconds(), newcomer, newcomerWords, spelling, spellingWords)
	require.LessOrEqual(t, clicks, mostMemberClicks)
	require.LessOrEqual(t, words, mostMemberWords)
	require.LessOrEqual(t, took, mostMemberTime)
}

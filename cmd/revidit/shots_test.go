package main

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// shotsTo names the folder that deploy/check.sh shots writes pictures of all pages into.
const shotsTo = "REVIDIT_SHOTS"

// tallest is how far down a picture shows a page, in pixels: the longest forms go on for twenty times as much of the same.
const tallest = 4000

// TestShots draws every page of the walk by light and in the dark, at a desk and on a phone. It is no test, and runs where a folder is
// named.
func TestShots(t *testing.T) {
	folder := os.Getenv(shotsTo)
	if folder == "" {
		t.Skip("deploy/check.sh shots DIR draws them")
	}
	require.NoError(t, os.MkdirAll(folder, 0o755))
	w := madeUp.serve(t)
	for by, theirs := range w.walkers() {
		b := openBrowser(t, w.base)
		if by != "" {
			b.enter(w.cookie(t, by))
		}
		for _, s := range theirs {
			b.reach(s)
			for _, v := range []view{lightDesk, darkDesk, lightPhone, darkPhone} {
				b.see(v)
				b.script(`document.querySelectorAll("img[loading=lazy]").forEach(e => { e.loading = "eager"; })`)
				if !evaluated[bool](b, `!!document.querySelector(".stage")`) { // what is as high as the window is shown in one
					v.height = min(max(evaluated[int64](b, `document.documentElement.scrollHeight`), v.height), tallest)
				}
				b.see(v)
				b.wait(`[...document.images].every(e => e.complete)`)
				picture, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
				require.NoError(t, err)
				name := fmt.Sprintf("%s-%s-%d.png", s.name, v.theme, v.width)
				require.NoError(t, os.WriteFile(filepath.Join(folder, name), picture, 0o644))
			}
		}
	}
}

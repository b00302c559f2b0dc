package main

import (
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// TestFiguresInABrowser: the pages of figures pass axe, weigh anew at the press of a button, and fit a phone, with something
// to draw and with nothing.
func TestFiguresInABrowser(t *testing.T) {
	t.Parallel()
	p := startProgram(t, "serve", "--insecure", "--data", newClub(t), "--addr", "127.0.0.1:0")
	b := openBrowser(t, p.address)
	b.login("curator")
	pages := []string{"/figures", "/figures/agreement", "/figures/calibration", "/figures/reliability"}
	for _, page := range pages {
		b.open(page)
		b.accessible()
	}
	require.Contains(t, b.text(), "Everybody counts as their role")
	closedBeetle(t, p, "F-1")
	b.press("Weigh all reports anew")
	require.Regexp(t, "version [12]", b.text(), "learning is a job, which may have been quicker or not")
	require.Contains(t, b.text(), "Test reviewer")
	b.accessible()
	b.open("/figures/agreement")
	require.Contains(t, b.text(), "Process between the front legs")
	b.accessible()
	for _, page := range pages {
		b.open(page)
		b.accessible()
		b.do(chromedp.EmulateViewport(320, 640))
		b.accessible()
	}
}

package main

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// TestFiguresInABrowser: the pages of figures pass axe and fit a phone with nothing to draw, and weigh anew at the press of a button.
// With something to draw TestEveryPageInABrowser looks at them.
func TestFiguresInABrowser(t *testing.T) {
	t.Parallel()
	p := startProgram(t, "serve", "--insecure", "--data", newClub(t), "--addr", "127.0.0.1:0")
	b := openBrowser(t, p.address)
	b.login("curator")
	for _, page := range []string{"/figures/agreement", "/figures/calibration", "/figures/reliability"} {
		b.open(page)
		b.accessible()
	}
	require.Contains(t, b.text(), "Everybody counts as their role")
	closedBeetle(t, p, "F-1")
	b.press("Weigh all reports anew")
	require.Regexp(t, "version [12]", b.text(), "learning is a job, which may have been quicker or not")
	require.NotContains(t, b.text(), "Test reviewer", "curators are shown totals at first")
	b.open("/figures/agreement")
	require.Contains(t, b.text(), "Process between the front legs")
	b.accessible() // one specimen is less than most of it needs
}

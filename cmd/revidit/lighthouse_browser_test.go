package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// lighthouseAt names the program lighthouse (npm): deploy/check.sh browser installs it in a folder that it removes again.
const lighthouseAt = "REVIDIT_LIGHTHOUSE"

const (
	lighthouseRuns = 5
	leastScore     = 98 // of accessibility; that of performance is a time and is only told
)

// TestLighthouse asks Lighthouse (Google) what it holds of the main pages, as it does by itself: a slow phone on a slow line, nothing in
// the cache. The figures are the worst page's median of five runs. It takes minutes, and only deploy/check.sh browser runs it.
func TestLighthouse(t *testing.T) {
	program := os.Getenv(lighthouseAt)
	if program == "" {
		t.Skip("deploy/check.sh browser measures it")
	}
	w := madeUp.serve(t)
	b, port := browserOnPort(t, w.base)
	worst := map[string]float64{"performance": 100, "accessibility": 100}
	for by, theirs := range w.walkers() {
		for _, s := range theirs {
			if !slices.Contains(mainPages, s.name) {
				continue
			}
			b.enter(w.cookie(t, by))
			scores := map[string][]float64{}
			for range lighthouseRuns {
				for category, score := range lighthouse(t, program, w.base+s.path, port) {
					scores[category] = append(scores[category], score)
				}
			}
			for category, all := range scores {
				slices.Sort(all)
				median := all[len(all)/2]
				fmt.Printf("%s_%s=%.0f\n", category, s.name, median)
				worst[category] = math.Min(worst[category], median)
			}
		}
	}
	fmt.Printf("performance=%.0f\naccessibility=%.0f\n", worst["performance"], worst["accessibility"])
	require.GreaterOrEqual(t, worst["accessibility"], float64(leastScore))
}

// browserOnPort is a Chromium of its own that Lighthouse reaches at a port. Who looks is logged in by a cookie there: one that Lighthouse
// would send as a header is lost as soon as a page has set another one.
func browserOnPort(t *testing.T, base string) (b *browser, port string) {
	t.Helper()
	chromium.once.Do(chromium.start)
	require.NoError(t, chromium.err)
	profile := t.TempDir()
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium.program), chromedp.NoSandbox,
		chromedp.UserDataDir(profile), chromedp.Flag("disable-gpu", true),
		chromedp.ModifyCmdFunc(func(cmd *exec.Cmd) { cmd.Args = append(cmd.Args, "--remote-debugging-port=0") })) // beside the pipe
	allocated, stop := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(stop)
	ctx, closeTab := chromedp.NewContext(allocated)
	t.Cleanup(closeTab)
	b = &browser{T: t, ctx: ctx, base: base}
	b.do(chromedp.Navigate("about:blank"))
	require.Eventually(t, func() bool {
		said, err := os.ReadFile(filepath.Join(profile, "DevToolsActivePort"))
		port, _, _ = strings.Cut(string(said), "\n")
		return err == nil && port != ""
	}, time.Minute, 50*time.Millisecond)
	return b, port
}

// lighthouse is one run: scores from 0 to 100 by category.
func lighthouse(t *testing.T, program, address, port string) map[string]float64 {
	t.Helper()
	report := filepath.Join(t.TempDir(), "report.json")
	said, err := exec.Command(program, address, "--quiet", "--output=json", "--output-path="+report, "--only-categories=performance,accessibility",
		"--port="+port, "--disable-full-page-screenshot").CombinedOutput()
	require.NoError(t, err, string(said))
	data, err := os.ReadFile(report)
	require.NoError(t, err)
	var found struct {
		FinalDisplayedURL string `json:"finalDisplayedUrl"`
		Categories        map[string]struct{ Score *float64 }
	}
	require.NoError(t, json.Unmarshal(data, &found))
	require.Equal(t, address, found.FinalDisplayedURL, "the page itself, not the login")
	require.Len(t, found.Categories, 2)
	scores := map[string]float64{}
	for category, is := range found.Categories {
		require.NotNil(t, is.Score, category)
		scores[category] = math.Round(*is.Score * 100)
	}
	return scores
}

package main

import (
	"fmt"
	"io"
	"net/http"
	"os"
	"regexp"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// look is how a page is shown, and the rules of axe that are asked then.
type look struct {
	view  view
	rules string
}

// looksAt are the looks at a page: measured, with all rules four times; daily with all rules once, and the five main pages in the dark on
// a phone as well, with the rules that colours and width decide.
func looksAt(s station, whole bool) []look {
	looks := []look{{lightDesk, allRules}}
	if whole {
		return append(looks, look{darkDesk, allRules}, look{lightPhone, allRules}, look{darkPhone, allRules})
	}
	if slices.Contains(mainPages, s.name) {
		looks = append(looks, look{darkPhone, ofSight})
	}
	return looks
}

// TestEveryPageInABrowser walks over all pages of the made-up club: axe-core finds nothing by light and in the dark, at a desk and on a
// phone, and nothing scrolls sideways at 320 px and at 200 %, in a wide font too. Daily it looks less often, see looksAt, and in German
// alone, whose words are longer; long lists are cut then, see thin.
func TestEveryPageInABrowser(t *testing.T) {
	t.Parallel()
	w := madeUp.serve(t)
	whole := os.Getenv(measured) != ""
	languages := []string{"de"}
	if whole {
		languages = []string{"en", "de"}
	}
	var found atomic.Int32
	t.Run("who", func(t *testing.T) {
		for by, theirs := range w.walkers() {
			for _, language := range languages {
				t.Run(language+" by "+by, func(t *testing.T) {
					t.Parallel()
					b := openBrowser(t, w.base)
					b.carryAxe()
					b.enter(&http.Cookie{Name: "revidit-language", Value: language})
					if by != "" {
						b.enter(w.cookie(t, by))
					}
					for _, s := range theirs {
						b.reach(s)
						if !strings.HasPrefix(s.name, "published") { // which read no cookie: one is in the language of the browser, one in that of its address
							require.Equal(t, language, evaluated[string](b, `document.documentElement.lang`), s)
						}
						found.Add(b.lookAt(s, whole))
					}
				})
			}
		}
	})
	fmt.Printf("axe_violations=%d pages=%d\n", found.Load(), len(stations))
}

// lookAt holds the page that is open against axe-core and against narrow windows, and returns how many violations it has.
func (b *browser) lookAt(s station, whole bool) (found int32) {
	b.Helper()
	b.fits()
	if whole || slices.Contains(mainPages, s.name) {
		b.fitsZoomed()
	}
	if !whole {
		b.thin()
	}
	for _, look := range looksAt(s, whole) {
		b.see(look.view)
		wrong := b.violations(look.rules)
		found += int32(len(wrong))
		assert.Empty(b, wrong, "%s, %s", s, look.view)
	}
	return found
}

// reach opens a page, which must be there, and at its own address.
func (b *browser) reach(s station) {
	b.Helper()
	b.see(lightDesk)
	answer, err := chromedp.Run(b.ctx, chromedp.NavigateResponse(b.base+s.path))
	require.NoError(b, err)
	require.EqualValues(b, http.StatusOK, answer.Status, "%s", s)
	require.Equal(b, s.path, b.path())
}

// TestWhatIsNoPage: addresses that answer no HTML, or lead on.
func TestWhatIsNoPage(t *testing.T) {
	t.Parallel()
	w := madeUp.serve(t)
	ask := func(by, path string) (*http.Response, string) {
		request, err := http.NewRequest("GET", w.base+path, nil)
		require.NoError(t, err)
		if by != "" {
			request.AddCookie(w.cookie(t, by))
		}
		answer, err := noRedirects.Do(request)
		require.NoError(t, err)
		defer answer.Body.Close()
		body, err := io.ReadAll(answer.Body)
		require.NoError(t, err)
		return answer, string(body)
	}
	_, plates := ask("ida", beetles+"/glossary")
	_, form := ask("ida", "/submissions/new?group=coleoptera-adults")
	for _, o := range onward {
		path := written(o.path, w.id)
		switch o.route {
		case "/pictures/:hash/:character/:state":
			path = regexp.MustCompile(`/pictures/[^"]+`).FindString(form)
		case "/plates/:hash/:plate":
			path = regexp.MustCompile(`/plates/[^"]+`).FindString(plates)
		}
		require.NotEmpty(t, path, o.route)
		answer, _ := ask(o.by, path)
		if o.leads != "" {
			require.Equal(t, http.StatusSeeOther, answer.StatusCode, path)
			require.Contains(t, answer.Header.Get("Location"), o.leads)
			continue
		}
		require.Equal(t, http.StatusOK, answer.StatusCode, path)
		require.Contains(t, answer.Header.Get("Content-Type"), o.media, path)
		require.NotContains(t, answer.Header.Get("Content-Type"), "html", path)
	}
}

// mainPages are the five that most people open, by their stations: home, queue, a submission, the form, the tables. Other homes and the
// whole form are weighed with them.
var (
	mainPages = []string{"home-curator", "queue", "confirmed", "begin", "tables"}
	alsoFirst = []string{"home-member", "home-reviewer", "new"}
)

// mostFirst is what a first load may weigh in thousand bytes, without photos.
const mostFirst = 100

// TestFirstLoadInABrowser: what comes over the wire when a page is the first that a browser opens: compressed, nothing kept from before,
// photos left out.
func TestFirstLoadInABrowser(t *testing.T) {
	t.Parallel()
	w, largest := madeUp.serve(t), 0
	for by, theirs := range w.walkers() {
		for _, s := range theirs {
			if !slices.Contains(mainPages, s.name) && !slices.Contains(alsoFirst, s.name) {
				continue
			}
			b := openBrowser(t, w.base)
			b.enter(w.cookie(t, by))
			b.reach(s)
			b.wait(`document.readyState === "complete"`)
			came := evaluated[int](b, `[...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")]
				.filter(e => !new URL(e.name).pathname.startsWith("/photos/")).reduce((sum, e) => sum + e.transferSize, 0)`)
			require.Greater(t, came, 5000, "%s: style and page", s)
			fmt.Printf("first_load_%s_bytes=%d\n", s.name, came)
			largest = max(largest, came)
		}
	}
	fmt.Printf("first_load_kb=%.1f\n", float64(largest)/1000)
	require.LessOrEqual(t, largest, mostFirst*1000)
}

package main

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

//go:embed testdata/mirador/mirador.min.js.gz
var mirador []byte

// viewerSite is a site of somebody else, of another origin than ours, with a viewer that is told of a manifest.
func viewerSite(t *testing.T, manifest string) string {
	t.Helper()
	packed, err := gzip.NewReader(bytes.NewReader(mirador))
	require.NoError(t, err)
	script, err := io.ReadAll(packed)
	require.NoError(t, err)
	page := fmt.Sprintf(`<!DOCTYPE html><title>viewer</title><style>#viewer{position:absolute;inset:0}</style><div id="viewer"></div><script src="viewer.js"></script><script>
		Mirador.viewer({id: "viewer", language: "en", windows: [{manifestId: %q}],
			window: {sideBarOpen: true, defaultSideBarPanel: "annotations", highlightAllAnnotations: true, sideBarPanel: "annotations"}})</script>`, manifest)
	site := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/viewer.js" {
			w.Header().Set("Content-Type", "text/javascript")
			_, _ = w.Write(script) // the browser may have gone
			return
		}
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_, _ = io.WriteString(w, page)
	}))
	t.Cleanup(site.Close)
	return site.URL
}

// TestAnyViewerShowsAPublishedSpecimenBrowser: Mirador 4.0.0, a general viewer of the IIIF standards, opens the manifest from another
// origin, paints the photo from our tiles, and lists our regions.
func TestAnyViewerShowsAPublishedSpecimenBrowser(t *testing.T) {
	w := madeUp.serve(t)
	address := w.base + "/iiif/specimens/" + w.id["published"] + "/manifest"
	answer, err := http.Get(address)
	require.NoError(t, err)
	defer answer.Body.Close()
	require.Empty(t, answer.Header.Values("Set-Cookie"))
	var manifest struct {
		Label map[string][]string
		Items []struct {
			Annotations []struct {
				Items []struct {
					Body []struct{ Value, Language string }
				}
			}
		}
	}
	require.NoError(t, json.NewDecoder(answer.Body).Decode(&manifest))
	var texts []string
	for _, canvas := range manifest.Items[:1] {
		for _, page := range canvas.Annotations {
			for _, a := range page.Items {
				texts = append(texts, a.Body[len(a.Body)-1].Value)
			}
		}
	}
	b := openBrowser(t, viewerSite(t, address))
	b.see(lightDesk)
	b.do(chromedp.Navigate(b.base))
	seen := func() string { return evaluated[string](b, `document.body.innerText`) }
	require.Eventually(t, func() bool { return strings.Contains(seen(), manifest.Label["en"][0]) }, time.Minute, 200*time.Millisecond, "the title")
	tiles := func() int {
		return evaluated[int](b, `performance.getEntriesByType("resource").filter(r => /\/iiif\/images\/[^/]+\/[^/]+\/[^/]+\/0\/default\.jpg/.test(r.name)).length`)
	}
	require.Eventually(t, func() bool { return tiles() > 0 }, time.Minute, 200*time.Millisecond, "the photo")
	require.NotEmpty(t, texts, "the first photo has regions")
	require.Eventually(t, func() bool { return strings.Contains(seen(), texts[0]) }, time.Minute, 200*time.Millisecond, "the regions: %s", texts)
}

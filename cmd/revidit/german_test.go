package main

import (
	"cmp"
	"html"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v4"
)

// bothLanguages are the English texts of pages, as HTML has them, that are several words and others in German.
func bothLanguages(t *testing.T) map[string]bool {
	t.Helper()
	read := func(path string) map[string]any {
		content, err := os.ReadFile(path)
		require.NoError(t, err)
		var texts map[string]any
		require.NoError(t, yaml.Load(content, &texts))
		return texts
	}
	files, err := filepath.Glob("../../web/words/*.en.yaml")
	require.NoError(t, err)
	require.Greater(t, len(files), 10)
	english := map[string]bool{}
	for _, path := range files {
		german := read(strings.TrimSuffix(path, "en.yaml") + "de.yaml")
		for key, text := range read(path) {
			text, plain := text.(string)
			if plain && text != german[key] && strings.Count(text, " ") > 1 && !strings.ContainsAny(text, "{<") {
				english[html.EscapeString(text)] = true
			}
		}
	}
	require.Greater(t, len(english), 100)
	return english
}

// textsOf are the texts between two tags and the values of attributes, as HTML has them.
var textsOf = regexp.MustCompile(`>([^<>]+)<|="([^"]*)"`)

// inEnglish is what a page marks as English, such as what the document of the API says.
var inEnglish = regexp.MustCompile(`<\w+[^>]* lang="en"[^>]*>(?:<a[^>]*>)?[^<]*`)

// TestEveryPageInGerman: no page of the made-up club that is asked for in German says one of our English texts.
func TestEveryPageInGerman(t *testing.T) {
	t.Parallel()
	w, english := madeUp.serve(t), bothLanguages(t)
	for by, theirs := range w.walkers() {
		for _, s := range theirs {
			request, err := http.NewRequest(http.MethodGet, w.base+s.path, nil)
			require.NoError(t, err)
			request.Header.Set("Accept-Language", "de")
			if by != "" {
				request.AddCookie(w.cookie(t, by))
			}
			answer, err := noRedirects.Do(request)
			require.NoError(t, err)
			body, err := io.ReadAll(answer.Body)
			answer.Body.Close()
			require.NoError(t, err)
			page := string(body)
			require.Equal(t, http.StatusOK, answer.StatusCode, "%s: %.2000s", s, page)
			require.Contains(t, page, `<html lang="de">`, s)
			for _, said := range textsOf.FindAllStringSubmatch(inEnglish.ReplaceAllString(page, ""), -1) {
				text := cmp.Or(said[1], said[2])
				assert.False(t, english[text], "%s: %s", s, text)
			}
		}
	}
}

package main

import (
	"html"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v4"
)

// bothLanguages are the English texts of pages, as HTML has them, that are several words and others in German.
func bothLanguages(t *testing.T) []string {
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
	var english []string
	for _, path := range files {
		german := read(strings.TrimSuffix(path, "en.yaml") + "de.yaml")
		for key, text := range read(path) {
			text, plain := text.(string)
			if plain && text != german[key] && strings.Count(text, " ") > 1 && !strings.ContainsAny(text, "{<") {
				english = append(english, html.EscapeString(text))
			}
		}
	}
	require.Greater(t, len(english), 100)
	return english
}

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
			for _, text := range english {
				said := strings.Contains(page, ">"+text+"<") || strings.Contains(page, `="`+text+`"`)
				assert.False(t, said, "%s: %s", s, text)
			}
		}
	}
}

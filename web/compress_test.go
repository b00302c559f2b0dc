package web

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/web/static"
)

// TestPagesAreSentCompressed to those who accept it, and are the same then (RFC 9110, section 8.4). What is changed by its
// ETag, and photos, come as they are.
func TestPagesAreSentCompressed(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	server := httptest.NewServer(club.handler)
	defer server.Close()
	cookie := club.cookie("ada")
	ask := func(method, path, accepts string) (*http.Response, []byte) {
		request, err := http.NewRequestWithContext(t.Context(), method, server.URL+path, nil)
		require.NoError(t, err)
		request.Header.Set("Cookie", cookie)
		request.Header.Set("Accept-Encoding", accepts)
		answer, err := http.DefaultTransport.RoundTrip(request)
		require.NoError(t, err)
		defer answer.Body.Close()
		body, err := io.ReadAll(answer.Body)
		require.NoError(t, err)
		require.Equal(t, http.StatusOK, answer.StatusCode, path)
		return answer, body
	}
	for _, path := range []string{"/submissions/new", "/submissions/" + v.Submission.ID, static.URL("style.css"), static.URL("pages.js")} {
		plain, whole := ask(http.MethodGet, path, "identity")
		require.Empty(t, plain.Header.Get("Content-Encoding"))
		small, packed := ask(http.MethodGet, path, "gzip")
		require.Equal(t, "gzip", small.Header.Get("Content-Encoding"), path)
		require.Contains(t, small.Header.Values("Vary"), "Accept-Encoding")
		require.Empty(t, small.Header.Get("ETag"), "it would stand for two codings")
		require.Less(t, len(packed), len(whole)/2, path)
		head, nothing := ask(http.MethodHead, path, "gzip")
		require.Equal(t, "gzip", head.Header.Get("Content-Encoding"))
		require.Empty(t, nothing)
	}
	_, whole := ask(http.MethodGet, static.URL("style.css"), "identity")
	_, packed := ask(http.MethodGet, static.URL("style.css"), "gzip")
	require.Equal(t, whole, decompressed(t, packed))
	for _, path := range []string{"/api/v1/submissions/" + v.Submission.ID, "/photos/" + v.Submission.Photos[0] + "/display"} {
		answer, _ := ask(http.MethodGet, path, "gzip")
		require.Empty(t, answer.Header.Get("Content-Encoding"), path)
		require.NotEmpty(t, answer.Header.Get("ETag"), path)
	}
}

func decompressed(t testing.TB, packed []byte) []byte {
	t.Helper()
	r, err := gzip.NewReader(bytes.NewReader(packed))
	require.NoError(t, err)
	text, err := io.ReadAll(r)
	require.NoError(t, err)
	return text
}

package main

import (
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestKeysFamiliesAndMachines: a club whose keys lie elsewhere; a key is added and a login goes on; a reviewer is named for families; a
// machine reads by its token, and no more once that is revoked.
func TestKeysFamiliesAndMachines(t *testing.T) {
	t.Parallel()
	data, keys := t.TempDir(), filepath.Join(t.TempDir(), "keys")
	at := []string{"--data", data, "--key-file", keys}
	run := func(stdin string, args ...string) ran {
		t.Helper()
		return runHere(t, stdin, append(args, at...)...)
	}
	good := func(stdin string, args ...string) string {
		t.Helper()
		got := run(stdin, args...)
		require.Equal(t, 0, got.code, got.err)
		return got.out
	}
	require.Contains(t, run("", "keys", "rotate").err, "there is no key file")
	good("", "migrate")
	require.NoFileExists(t, keyFile(data))
	require.FileExists(t, keys)
	good(testPassword+"\n", "user", "add", "--role", "reviewer", "rita", "Rita")
	good(testPassword+"\n", "user", "add", "--role", "keeper", "kim", "Kim")

	require.Contains(t, run("", "user", "families", "--reason", "a test", "rita", "Elateridea").err, "not a family of these tables")
	require.Contains(t, run("", "user", "families", "--reason", "a test", "kim", "Elateridae").err, "Only reviewers are named")
	require.Contains(t, good("", "user", "families", "--reason", "a test", "rita", "Elateridae", "Buprestidae"), "reviews Elateridae, Buprestidae")
	require.Contains(t, good("", "user", "list"), "Buprestidae Elateridae")

	secret := strings.TrimSpace(good("", "machine", "give", "--name", "Scanner", "--purpose", "a test", "--scopes", "read"))
	p := startProgram(t, "serve", "--addr", "127.0.0.1:0", "--insecure", "--data", data, "--key-file", keys)
	status := func(token, path string) int {
		request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, p.address+path, nil)
		require.NoError(t, err)
		request.Header.Set("Authorization", "Bearer "+token)
		answer, err := http.DefaultClient.Do(request)
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		return answer.StatusCode
	}
	require.Equal(t, http.StatusOK, status(secret, "/api/v1/submissions"))
	require.Equal(t, http.StatusForbidden, status(secret, "/api/v1/queue"))
	require.Equal(t, http.StatusForbidden, status(secret, "/submissions"))
	cookie := cookieOf(t, p.address, "rita", testPassword)

	first := strings.Fields(good("", "keys", "list"))[0]
	require.Contains(t, run("", "keys", "end", first).err, "signs the tokens of now")
	good("", "keys", "rotate", "--now")
	list := good("", "keys", "list")
	require.Contains(t, list, "still good for what it has signed")
	require.Equal(t, 2, strings.Count(list, "\n"))
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, p.address+"/queue", nil)
	require.NoError(t, err)
	request.AddCookie(cookie)
	answer, err := http.DefaultClient.Do(request)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusOK, answer.StatusCode, "the login goes on")
	good("", "keys", "end", first)

	id := strings.Fields(good("", "machine", "list"))[0]
	good("", "machine", "revoke", "--reason", "a test", id)
	require.Equal(t, http.StatusUnauthorized, status(secret, "/api/v1/submissions"))
	text, err := os.ReadFile(keys)
	require.NoError(t, err)
	require.NotContains(t, string(text), secret)
}

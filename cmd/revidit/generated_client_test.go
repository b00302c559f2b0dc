package main

import (
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// withNode has the client in TypeScript run, too: it needs Node.js and some packages from npm.
const withNode = "REVIDIT_TYPESCRIPT_CLIENT"

// TestGeneratedClients: clients that generators of others make of the OpenAPI document compile, and do the whole round with a started
// program: log in, upload, submit, review, read, publish, log out.
func TestGeneratedClients(t *testing.T) {
	t.Parallel()
	t.Run("Go", func(t *testing.T) {
		t.Parallel()
		generated(t, "go", [][]string{
			{"go", "tool", "oapi-codegen", "-generate", "types,client", "-package", "api", "-o", "api/api.go", "openapi.json"},
			{"go", "build", "-o", "round", "."},
		}, "./round")
	})
	t.Run("TypeScript", func(t *testing.T) {
		if os.Getenv(withNode) == "" {
			t.Skipf("deploy/check.sh clients sets %s", withNode)
		}
		t.Parallel()
		generated(t, "typescript", [][]string{
			{"npm", "ci", "--no-audit", "--no-fund", "--loglevel=error"},
			{"node_modules/.bin/openapi-typescript", "openapi.json", "-o", "api.d.ts"},
			{"node_modules/.bin/tsc"},
		}, "node", "made/round.js")
	})
}

// generated makes a client and has it do its round.
func generated(t *testing.T, language string, making [][]string, round ...string) {
	t.Helper()
	p := startProgram(t, "serve", "--insecure", "--data", newClub(t), "--addr", "127.0.0.1:0")
	folder := t.TempDir()
	require.NoError(t, os.CopyFS(folder, os.DirFS(filepath.Join("testdata/clients", language))))
	require.NoError(t, os.MkdirAll(filepath.Join(folder, "api"), 0o755))
	for name, content := range map[string][]byte{"openapi.json": documentOf(t, p), "beetle.jpg": drawnPicture(t, "whole-below")} {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), content, 0o644))
	}
	for _, step := range making {
		hasRun(t, folder, step...)
	}
	said := hasRun(t, folder, append(round, p.address+"/api/v1", testPassword, "beetle.jpg")...)
	lines := strings.Split(strings.TrimSpace(said), "\n")
	require.Regexp(t, `^confirmed Elateridae 0\.9\d\d|^confirmed Elateridae 1\.000`, lines[0])
	require.Contains(t, lines, "submitted member")
	require.Contains(t, lines, "confirmed reviewer")
	word, specimen, _ := strings.Cut(lines[len(lines)-1], " ")
	require.Equal(t, "published", word)
	answer, err := http.Get(p.address + "/published/" + specimen)
	require.NoError(t, err)
	defer answer.Body.Close()
	require.Equal(t, http.StatusOK, answer.StatusCode, "everybody sees it")
}

func documentOf(t *testing.T, p *program) []byte {
	t.Helper()
	answer, err := http.Get(p.address + "/api/v1/openapi.json")
	require.NoError(t, err)
	defer answer.Body.Close()
	document, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	return document
}

// hasRun is what a program says; it must end well.
func hasRun(t *testing.T, folder string, command ...string) string {
	t.Helper()
	c := exec.Command(command[0], command[1:]...)
	c.Dir = folder
	c.Env = append(os.Environ(), "GOWORK=off", "GOFLAGS=-mod=mod")
	said, err := c.CombinedOutput()
	require.NoError(t, err, "%s:\n%s", strings.Join(command, " "), said)
	return string(said)
}

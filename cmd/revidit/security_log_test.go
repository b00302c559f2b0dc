package main

import (
	"bufio"
	"encoding/json"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

type securityLine struct {
	Time                                                    time.Time
	Msg, Event, Account, Address, By, Command, Route, Level string
	RequestID                                               string `json:"request_id"`
	Failed                                                  bool
}

func securityLinesOf(t *testing.T, path string) (lines []securityLine, text string) {
	t.Helper()
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	for s := bufio.NewScanner(file); s.Scan(); {
		var line securityLine
		require.NoError(t, json.Unmarshal(s.Bytes(), &line), s.Text())
		require.Equal(t, "security", line.Msg)
		require.False(t, line.Time.IsZero())
		require.Regexp(t, `"time":"[^"]+Z"`, s.Text(), "in UTC")
		lines, text = append(lines, line), text+s.Text()+"\n"
	}
	return lines, text
}

// TestTheSecurityLog: logins, refusals, what leaves the house and what a keeper does stand in a log of their own, for its owner alone, as
// lines of JSON without a secret, also where somebody types line ends or secrets in the wrong place.
func TestTheSecurityLog(t *testing.T) {
	t.Parallel()
	data, log := newClub(t), filepath.Join(t.TempDir(), "security.jsonl")
	p := startProgram(t, "serve", "--insecure", "--data", data, "--addr", "127.0.0.1:0", "--security-log", log)
	enter := func(login, password string) *http.Response {
		client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
		answer, err := client.PostForm(p.address+"/login", url.Values{"login": {login}, "password": {password}})
		require.NoError(t, err)
		answer.Body.Close()
		return answer
	}
	enter("curator", "a mistyped secret")
	enter("my secret\n{\"msg\":\"forged\"}", "curator")
	curator, member := loginClient(t, p, "curator"), loginClient(t, p, "member")
	tell := func(c *client, method, path string, want int) {
		status, err := c.do(method, path, "", nil, nil, nil)
		require.NoError(t, err)
		require.Equal(t, want, status)
	}
	tell(member, "GET", "/ledger", http.StatusForbidden)
	tell(curator, "GET", "/archive?title=A&organization=B&license=https://creativecommons.org/publicdomain/zero/1.0/", http.StatusOK)
	tell(curator, "DELETE", "/sessions", http.StatusNoContent)
	tell(curator, "GET", "/me", http.StatusUnauthorized)
	for _, args := range [][]string{{"user", "role", "member", "reviewer", "--reason", "has learnt a secret"}, {"user", "erase", "second", "--yes", "--reason", "asked for it"},
		{"user", "disable", "nobody", "--reason", "is nobody"}} {
		runHere(t, "", append(args, "--data", data, "--security-log", log)...)
	}
	lines, text := securityLinesOf(t, log)
	var told []string
	for _, l := range lines {
		told = append(told, strings.TrimSpace(l.Event+" "+l.Account+" "+l.Command))
		require.True(t, l.Address != "" || l.By != "", l)
	}
	erased := regexp.MustCompile(`person erased (\S+)`).FindStringSubmatch(strings.Join(told, "\n"))
	require.NotEmpty(t, erased, text)
	require.NotEqual(t, "second", erased[1], "the login is gone")
	require.Equal(t, []string{"wrong password curator", "unknown login", "logged in curator", "logged in member", "forbidden member", "file handed over curator",
		"logged out everywhere curator", "login has ended curator", "role changed member", "command  user role", erased[0], "command  user erase", "command  user disable"}, told)
	require.True(t, lines[len(lines)-1].Failed)
	for _, secret := range []string{testPassword, "mistyped", "my secret", "forged", "learnt", curator.token, member.token} {
		require.NotContains(t, text, secret)
	}
	info, err := os.Stat(log)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())

	// A program that keeps logs short moves it away.
	require.NoError(t, os.Rename(log, log+".1"))
	enter("curator", "another mistyped secret")
	lines, _ = securityLinesOf(t, log)
	require.Len(t, lines, 1)
	require.Equal(t, "wrong password", lines[0].Event)
}

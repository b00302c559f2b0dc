package web

import (
	"bufio"
	"cmp"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/models/modelstest"
)

func TestCrowd(t *testing.T) {
	w := newCrowd(2)
	enter := func(address string, ok, first bool) {
		t.Helper()
		gotOK, gotFirst := w.enter(address)
		require.Equal(t, [2]bool{ok, first}, [2]bool{gotOK, gotFirst})
	}
	enter("a", true, false)
	enter("a", true, false)
	enter("a", false, true)
	enter("a", false, false)
	enter("b", true, false)
	w.leave("a")
	enter("a", true, false)
	for _, one := range []string{"a", "a", "b"} {
		w.leave(one)
	}
	require.Empty(t, w.here, "nothing is kept of those who have left")
}

// lockedLog is a log that is read while others write it.
type lockedLog struct {
	mu   sync.Mutex
	text strings.Builder
}

func (l *lockedLog) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(p)
}

// refusals are the lines of what was refused.
func (l *lockedLog) refusals() []string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return slices.DeleteFunc(securityLines(l.text.String()), func(line string) bool { return !strings.Contains(line, "too many") })
}

// listening serves a club on loopback as the program does, and returns its address.
func (c *apiClub) listening(t *testing.T) string {
	t.Helper()
	server, err := New(c.server.Config)
	require.NoError(t, err)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	t.Cleanup(func() {
		require.NoError(t, server.Close())
		require.ErrorIs(t, <-ended, http.ErrServerClosed)
	})
	return listener.Addr().String()
}

func dialed(t testing.TB, address string) net.Conn {
	t.Helper()
	conn, err := net.Dial("tcp", address)
	require.NoError(t, err)
	t.Cleanup(func() { conn.Close() })
	require.NoError(t, conn.SetDeadline(time.Now().Add(time.Minute)))
	return conn
}

// getsAnswer says whether a request over a connection gets an answer.
func getsAnswer(t testing.TB, conn net.Conn) bool {
	t.Helper()
	if _, err := io.WriteString(conn, "GET /login HTTP/1.1\r\nHost: a\r\n\r\n"); err != nil {
		return false
	}
	reply, err := http.ReadResponse(bufio.NewReader(conn), nil)
	if err != nil {
		return false
	}
	defer reply.Body.Close()
	require.Equal(t, http.StatusOK, reply.StatusCode)
	_, err = io.Copy(io.Discard, reply.Body)
	require.NoError(t, err)
	return true
}

func TestConnectionsOfOneAddressAreBounded(t *testing.T) {
	for name, test := range map[string]struct {
		proxies []string
		most    int  // 0: the default
		more    bool // whether one more than is let in gets an answer
	}{"of anybody": {nil, 0, false}, "by another bound": {nil, 12, false}, "of a proxy that is believed": {[]string{"127.0.0.1"}, 0, true}} {
		t.Run(name, func(t *testing.T) {
			log := &lockedLog{}
			club := newAPIClub(t, func(c *Config, _ *auth.Options) {
				c.TrustedProxies, c.Log, c.MostConnections = test.proxies, slog.New(slog.NewTextHandler(log, nil)), test.most
			})
			address := club.listening(t)
			conns := make([]net.Conn, cmp.Or(test.most, DefaultConnections))
			for i := range conns {
				conns[i] = dialed(t, address)
			}
			require.True(t, getsAnswer(t, conns[len(conns)-1]), "as many as are let in")
			require.Equal(t, test.more, getsAnswer(t, dialed(t, address)))
			require.Equal(t, test.more, getsAnswer(t, dialed(t, address)))
			for _, conn := range conns[:10] {
				require.NoError(t, conn.Close())
			}
			require.Eventually(t, func() bool { return getsAnswer(t, dialed(t, address)) }, modelstest.Patience, 20*time.Millisecond, "there is room again")
			if !test.more {
				require.Equal(t, []string{`event="too many connections" account="" address=127.0.0.1`}, log.refusals(), "one line for all")
			}
		})
	}
}

// TestSlowBodiesOfOneAddressAreBounded: bodies that stall take all places of one address; who comes from elsewhere through
// the same proxy has places of their own.
func TestSlowBodiesOfOneAddressAreBounded(t *testing.T) {
	const bodies = 10 // stalled ones are cut off after a while, which a hundred on a busy machine do not all live to see
	log := &lockedLog{}
	club := newAPIClub(t, func(c *Config, _ *auth.Options) {
		c.TrustedProxies, c.Log, c.MostBodies = []string{"127.0.0.1"}, slog.New(slog.NewTextHandler(log, nil)), bodies
	})
	address := club.listening(t)
	begin := func(path, from, body string) net.Conn {
		conn := dialed(t, address)
		_, err := fmt.Fprintf(conn, "POST /api/v1/%s HTTP/1.1\r\nHost: a\r\nX-Forwarded-For: %s\r\nContent-Type: application/json\r\nContent-Length: %d\r\n\r\n%s",
			path, from, max(len(body), 1000), body)
		require.NoError(t, err)
		return conn
	}
	status := func(conn net.Conn) int {
		reply, err := http.ReadResponse(bufio.NewReader(conn), nil)
		require.NoError(t, err)
		defer reply.Body.Close()
		if reply.StatusCode == http.StatusTooManyRequests {
			require.Equal(t, "5", reply.Header.Get("Retry-After"))
		}
		return reply.StatusCode
	}
	whole := func(from string) int { // not a login: those are limited as well
		return status(begin("submissions", from, `{"remarks":"`+strings.Repeat("x", 1000)+`"}`))
	}
	stalled := make([]net.Conn, bodies)
	for i := range stalled {
		stalled[i] = begin("sessions", "198.51.100.9", "{")
	}
	for whole("198.51.100.9") != http.StatusTooManyRequests { // it took the place of a stalled one that came later and was refused
		stalled = append(stalled, begin("sessions", "198.51.100.9", "{"))
		time.Sleep(50 * time.Millisecond)
	}
	require.Equal(t, http.StatusUnauthorized, whole("198.51.100.10"))
	for _, conn := range stalled {
		require.NoError(t, conn.Close())
	}
	require.Eventually(t, func() bool { return whole("198.51.100.9") == http.StatusUnauthorized }, modelstest.Patience, 50*time.Millisecond)
	require.Contains(t, log.refusals(), `event="too many bodies at once" account="" address=198.51.100.9`)
}

package web

import (
	"bufio"
	"context"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models/modelstest"
	"revidit/review/service"
)

// listening is a stream of what moves in the queue, over a real connection.
type listening struct {
	t      testing.TB
	answer *http.Response
	lines  chan string // closed at the end
}

// listens opens a stream at a server as somebody.
func (c *apiClub) listens(address, who string) *listening {
	c.t.Helper()
	ctx, cancel := context.WithCancel(c.t.Context())
	c.t.Cleanup(cancel)
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, address+"/queue/live", nil)
	require.NoError(c.t, err)
	r.Header.Set("Authorization", "Bearer "+c.token(who))
	r.Header.Set("Accept-Encoding", "gzip, zstd") // by hand: nothing is decoded
	answer, err := http.DefaultClient.Do(r)
	require.NoError(c.t, err)
	c.t.Cleanup(func() { answer.Body.Close() })
	l := &listening{t: c.t, answer: answer, lines: make(chan string, 99)}
	go func() {
		defer close(l.lines)
		for scanner := bufio.NewScanner(answer.Body); scanner.Scan(); {
			l.lines <- scanner.Text()
		}
	}()
	return l
}

// next is the next line that begins so; the rest is passed over.
func (l *listening) next(begin string) string {
	l.t.Helper()
	for late := time.After(10 * time.Second); ; {
		select {
		case line, more := <-l.lines:
			require.True(l.t, more, "the stream has ended")
			if strings.HasPrefix(line, begin) {
				return line
			}
		case <-late:
			require.Fail(l.t, "nothing came that begins with "+begin)
		}
	}
}

func (l *listening) ends() {
	l.t.Helper()
	for late := time.After(10 * time.Second); ; {
		select {
		case _, more := <-l.lines:
			if !more {
				return
			}
		case <-late:
			require.Fail(l.t, "the stream goes on")
		}
	}
}

// served is a club behind a real server, which is patient for no longer than a moment and asks often.
func served(t testing.TB) (*apiClub, string) {
	t.Helper()
	club := newAPIClub(t)
	club.server.live.poll, club.server.live.beat = 20*time.Millisecond, 50*time.Millisecond
	server := httptest.NewUnstartedServer(club.handler)
	server.Config.WriteTimeout, server.Config.ReadTimeout = 300*time.Millisecond, 300*time.Millisecond
	server.Start()
	t.Cleanup(server.Close)
	t.Cleanup(club.server.live.close)
	return club, server.URL
}

func TestWhatMovesInTheQueueIsTold(t *testing.T) {
	club, address := served(t)
	first := club.submitted()
	rolf, rita := club.listens(address, "rolf"), club.listens(address, "rita")
	require.Equal(t, http.StatusOK, rolf.answer.StatusCode)
	require.Equal(t, "text/event-stream", rolf.answer.Header.Get("Content-Type"))
	require.Empty(t, rolf.answer.Header.Get("Content-Encoding"), "what is compressed waits until there is enough of it")
	require.Equal(t, "retry: 5000", rolf.next("retry"))
	for range 12 {
		rolf.next(":") // longer than the server lets an answer take
	}
	club.call("rita", "POST", at(first, "/hold"), nil).is(http.StatusOK)
	require.Equal(t, `data: [{"submission":"`+first.Submission.ID+`","move":"held"}]`, rolf.next("data"))
	second := club.submitted()
	require.Equal(t, `data: [{"submission":"`+second.Submission.ID+`","move":"opened"}]`, rita.next("data"), "what she did herself is not told to her")
	require.Equal(t, `data: [{"submission":"`+second.Submission.ID+`","move":"opened"}]`, rolf.next("data"))
	// What somebody says of it moves nothing that lists would tell.
	club.call("rita", "POST", at(first, "/reviews"), disputes(first)).is(http.StatusOK)
	club.call("cora", "POST", at(first, "/undetermination"), reason).is(http.StatusOK)
	told := ""
	for !strings.Contains(told, `"move":"gone"`) { // one look may bring both
		told += rolf.next("data")
	}
	require.Contains(t, told, `"move":"freed"`, "her hold has ended")

	require.Equal(t, http.StatusForbidden, club.listens(address, "ada").answer.StatusCode, "members read no queue")
	club.call("rolf", "DELETE", "/api/v1/sessions", nil).is(http.StatusNoContent)
	rolf.ends()
}

func TestListenersAreBounded(t *testing.T) {
	club, address := served(t)
	var open []*listening
	for range listenersOfOne {
		open = append(open, club.listens(address, "rita"))
		require.Equal(t, http.StatusOK, open[len(open)-1].answer.StatusCode)
	}
	refused := club.listens(address, "rita").answer
	require.Equal(t, http.StatusTooManyRequests, refused.StatusCode)
	require.NotEmpty(t, refused.Header.Get("Retry-After"))
	require.Equal(t, http.StatusOK, club.listens(address, "rolf").answer.StatusCode, "somebody else has room")
	open[0].answer.Body.Close()
	require.Eventually(t, func() bool { return club.listens(address, "rita").answer.StatusCode == http.StatusOK }, modelstest.Patience, 50*time.Millisecond)
}

// Nothing asks the database where nobody listens, and a server that stops waits for no listener.
func TestListenersEndWithTheServer(t *testing.T) {
	club := newAPIClub(t)
	server, err := New(club.server.Config)
	require.NoError(t, err)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	one := club.listens("http://"+listener.Addr().String(), "rita")
	one.next("retry")
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	require.NoError(t, server.Shutdown(ctx))
	one.ends()
	require.ErrorIs(t, <-ended, http.ErrServerClosed)

	hub := newLive(club.server.Service, func(err error) { require.NoError(t, err) })
	asked := make(chan bool, 999)
	hub.poll, hub.moved = time.Millisecond, func(context.Context, int64) ([]service.Moved, int64, error) {
		asked <- true
		return nil, 0, nil
	}
	someone, err := hub.enter("rita")
	require.NoError(t, err)
	<-asked
	hub.leave(someone)
	require.Nil(t, hub.stop)
	hub.close()
	_, err = hub.enter("rita")
	require.Error(t, err)
}

package main

import (
	"net"
	"net/http"
	"net/http/httputil"
	"net/url"
	"strconv"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
)

// flaky stands between a browser and the program as a bad line does: it can be cut, and comes back.
type flaky struct {
	address string

	mu   sync.Mutex
	down bool
	open map[net.Conn]bool
}

func newFlaky(t *testing.T, to string) *flaky {
	t.Helper()
	target, err := url.Parse(to)
	require.NoError(t, err)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	f := &flaky{address: "http://" + listener.Addr().String(), open: map[net.Conn]bool{}}
	proxy := httputil.NewSingleHostReverseProxy(target)
	proxy.FlushInterval = -1 // what is told is told at once
	proxy.ErrorHandler = func(w http.ResponseWriter, _ *http.Request, _ error) { w.WriteHeader(http.StatusBadGateway) }
	server := &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if f.isDown() {
			panic(http.ErrAbortHandler)
		}
		r.Host = target.Host // the program compares it with where a form comes from
		if r.Header.Get("Origin") != "" {
			r.Header.Set("Origin", to)
		}
		proxy.ServeHTTP(w, r)
	}), ConnState: f.know}
	go func() { _ = server.Serve(listener) }() // ends when it is closed
	t.Cleanup(func() { _ = server.Close() })
	return f
}

func (f *flaky) know(c net.Conn, state http.ConnState) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if state == http.StateClosed || state == http.StateHijacked {
		delete(f.open, c)
		return
	}
	f.open[c] = true
}

func (f *flaky) isDown() bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.down
}

// cut ends every connection, and refuses new ones until mend.
func (f *flaky) cut() {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.down = true
	for c := range f.open {
		_ = c.Close() // it may be closed already
	}
}

func (f *flaky) mend() {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.down = false
}

// TestTheQueueIsLiveInABrowser: one reviewer looks at the queue; what another does and what a member submits is said there without a
// reload, nothing moves under the reader's hands, and after the line was cut it goes on by itself.
func TestTheQueueIsLiveInABrowser(t *testing.T) {
	t.Parallel()
	p := startProgram(t, "serve", "--insecure", "--data", newClub(t), "--addr", "127.0.0.1:0")
	submit := func(number string) string {
		member := loginClient(t, p, "member")
		var made struct{ Submission struct{ ID string } }
		status, err := member.send("POST", "/submissions", clickBeetle(number, member.upload(t, drawnPicture(t, "whole-below"))), nil, &made)
		require.NoError(t, err)
		require.Equal(t, http.StatusCreated, status)
		return made.Submission.ID
	}
	first := submit("L-1")
	line := newFlaky(t, p.address)
	b := openBrowser(t, line.address)
	b.login("reviewer")
	b.open("/queue")
	b.script(`window.sameDocument = true`)
	require.Contains(b, b.text(), "L-1")
	second := loginClient(t, p, "second")
	hold := func(method string) {
		status, err := second.send(method, "/submissions/"+first+"/hold", nil, nil, nil)
		require.NoError(t, err)
		require.Equal(t, http.StatusOK, status)
	}
	said := func(words string) string {
		return `document.querySelector('[data-submission="` + first + `"]').innerText.includes(` + strconv.Quote(words) + `)`
	}

	b.listening()
	hold("POST")
	b.wait(said("Somebody else holds it now."))
	hold("DELETE")
	b.wait(said("Nobody holds it any more."))
	submit("L-2")
	b.wait(`document.querySelector("[data-live]").innerText.includes("since you opened this page: 1.")`)
	require.NotContains(b, b.text(), "L-2", "nothing is moved under the reader's hands")

	line.cut()
	b.wait(`document.querySelector("[data-live]").dataset.heard === "no"`)
	line.mend()
	b.listening() // after the time that the stream has told
	b.wait(`document.querySelector("[data-live]").innerText.includes("was lost for a while")`)
	hold("POST")
	b.wait(said("Somebody else holds it now."))
	b.wait(`window.sameDocument`)

	b.pressOn(`document.querySelector("[data-live] a")`)
	require.Contains(b, b.text(), "L-2")
}

// listening waits until the page hears what moves.
func (b *browser) listening() {
	b.Helper()
	b.wait(`document.querySelector("[data-live]").dataset.heard === "yes"`)
}

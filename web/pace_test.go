package web

import (
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestSlowSendersAreCutOff(t *testing.T) {
	for name, c := range map[string]struct {
		came   int64
		waited time.Duration
		want   error
	}{
		"before the grace is over": {1, paceGrace - time.Second, nil},
		"slow":                     {paceLeast * 30, paceGrace + time.Second, errTooSlow},
		"fast enough":              {paceLeast * 40, paceGrace + time.Second, nil},
	} {
		body := pacedBody{ReadCloser: io.NopCloser(strings.NewReader("x")), control: http.NewResponseController(httptest.NewRecorder()), ctx: t.Context(), came: c.came, waited: c.waited}
		_, err := body.Read(make([]byte, 1))
		require.Equal(t, c.want, err, name)
	}
}

// TestTheRestOfAFormIsRead: behind the photo of a form stands its end, and only a body that was read whole lets the server
// notice that the sender hangs up. The handler here is told so by its context (net/http, Request.Context).
func TestTheRestOfAFormIsRead(t *testing.T) {
	gone := make(chan struct{})
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, err := photoIn(r)
		if err != nil {
			return
		}
		_, _ = io.Copy(io.Discard, body)
		<-r.Context().Done()
		close(gone)
	}))
	defer server.Close()
	conn, err := net.Dial("tcp", server.Listener.Addr().String())
	require.NoError(t, err)
	form := "--b\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"a\"\r\n\r\nbytes\r\n--b--\r\n"
	_, err = fmt.Fprintf(conn, "POST / HTTP/1.1\r\nHost: a\r\nContent-Type: multipart/form-data; boundary=b\r\nContent-Length: %d\r\n\r\n%s", len(form), form)
	require.NoError(t, err)
	time.Sleep(50 * time.Millisecond) // let the handler read it
	require.NoError(t, conn.Close())
	select {
	case <-gone:
	case <-time.After(10 * time.Second):
		t.Fatal("the handler does not hear that the sender has gone")
	}
}

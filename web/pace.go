package web

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"
)

// How slowly the body of a request may arrive. A phone with one bar sends some ten times as fast (assumed).
const (
	// paceSilence is how long nothing at all may come.
	paceSilence = 20 * time.Second
	// paceGrace is the time before which the rate is not looked at.
	paceGrace = 30 * time.Second
	// paceLeast is the least rate of all that has come, in bytes a second.
	paceLeast = 4 << 10
)

var errTooSlow = errors.New("the sender is too slow")

// pacedBody cuts off a sender who stalls, so that nobody keeps a place for nothing.
type pacedBody struct {
	io.ReadCloser
	control *http.ResponseController
	ctx     context.Context
	waited  time.Duration // for the sender alone, not for what is done with a photo of a form before the next
	came    int64
}

func (b *pacedBody) Read(p []byte) (int, error) {
	if err := b.ctx.Err(); err != nil {
		return 0, err
	}
	if b.waited > paceGrace && float64(b.came) < paceLeast*b.waited.Seconds() {
		return 0, errTooSlow
	}
	now := time.Now()
	if err := b.until(now.Add(paceSilence)); err != nil {
		return 0, err
	}
	n, err := b.ReadCloser.Read(p)
	b.waited += time.Since(now)
	b.came += int64(n)
	if err != nil {
		// What watches the connection from now on, to see whether the sender has gone, has no such haste.
		err = errors.Join(err, b.until(time.Time{}))
		if errors.Is(err, io.EOF) {
			return n, io.EOF
		}
	}
	return n, err
}

// until bounds the next reading. A recorder in a test has no connection to set deadlines on.
func (b *pacedBody) until(t time.Time) error {
	if err := b.control.SetReadDeadline(t); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return fmt.Errorf("bound a slow sender: %w", err)
	}
	return nil
}

// paced is the body of a request, watched for how fast it arrives.
func paced(c *gin.Context) pacedBody {
	return pacedBody{ReadCloser: c.Request.Body, control: http.NewResponseController(c.Writer), ctx: c.Request.Context()}
}

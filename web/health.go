package web

import (
	"context"
	"net/http"
	"sync"
	"time"

	"github.com/gin-gonic/gin"
)

// healthPath answers whoever watches over the service, without a login and without a word.
const healthPath = "/healthz"

const (
	// pulseTime is how long the database may take to answer.
	pulseTime = time.Second
	// pulseKept is how long an answer holds for those who ask meanwhile, so that asking costs nothing.
	pulseKept = 250 * time.Millisecond
)

// pulse is how the database answered last.
type pulse struct {
	mu  sync.Mutex
	at  time.Time
	err error
}

// feel asks the database, unless somebody has done so just now. Of many who ask at once one is asking, and all are told.
func (p *pulse) feel(ask func(context.Context) error) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if time.Since(p.at) < pulseKept {
		return p.err
	}
	ctx, cancel := context.WithTimeout(context.Background(), pulseTime)
	defer cancel()
	p.err = ask(ctx)
	p.at = time.Now()
	return p.err
}

// health is 200 where the database answers, else 503.
func (s *Server) health(c *gin.Context) {
	status := http.StatusOK
	if err := s.pulse.feel(s.Service.Answers); err != nil {
		s.Log.Error("the database does not answer", "error", err.Error(), "request_id", requestID(c))
		status = http.StatusServiceUnavailable
		retryAfter(c, waitOf[status])
	}
	c.Header("Cache-Control", "no-store")
	c.Status(status)
	c.Writer.WriteHeaderNow()
}

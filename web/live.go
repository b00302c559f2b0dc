package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"sync"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/klauspost/compress/gzhttp"

	"revidit/review"
	"revidit/review/service"
)

// Bounds of connections that are told what moves in the queue. Each costs a goroutine, and nothing of the database.
const (
	mostListeners   = 300 // of this process
	listenersOfOne  = 6   // of one person: windows of a browser
	livePoll        = time.Second
	liveHeartbeat   = 15 * time.Second
	liveWriting     = 10 * time.Second // for one message; who does not read is let go
	liveLongest     = 10 * time.Minute // then the browser comes again by itself
	liveWaiting     = 64               // batches that one may lag behind; who lags further comes again
	liveRetryMillis = 5000             // before a browser comes again
)

// live tells who looks at the queue what moves in it. One goroutine of the process asks the database, once a second, and only while
// somebody listens: by the position among all events, so that what other processes do is told as well.
type live struct {
	moved func(ctx context.Context, position int64) ([]service.Moved, int64, error)
	last  func(ctx context.Context) (int64, error)
	fault func(error)
	poll  time.Duration
	beat  time.Duration

	mu        sync.Mutex
	listeners map[*listener]bool
	people    map[string]int
	stop      context.CancelFunc // of the goroutine; nil where none runs
	ready     chan struct{}      // of the goroutine: closed when it knows from where on to tell
	closed    bool
}

type listener struct {
	person string
	moves  chan []service.Moved // closed when there is nothing more to come
	ready  <-chan struct{}      // closed when everything that happens from now on is told
}

func newLive(s *service.Service, fault func(error)) *live {
	return &live{moved: s.MovedAfter, last: s.LastPosition, fault: fault, poll: livePoll, beat: liveHeartbeat, listeners: map[*listener]bool{}, people: map[string]int{}}
}

// enter adds a listener, or says that there are too many.
func (l *live) enter(person string) (*listener, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.closed {
		return nil, review.Errorf(review.KindDown, "The server is stopping. Try again in a moment.")
	}
	if len(l.listeners) >= mostListeners || l.people[person] >= listenersOfOne {
		return nil, nil
	}
	if l.stop == nil {
		ctx, stop := context.WithCancel(context.Background())
		l.stop, l.ready = stop, make(chan struct{})
		go l.watch(ctx, l.ready)
	}
	one := &listener{person: person, moves: make(chan []service.Moved, liveWaiting), ready: l.ready}
	l.listeners[one] = true
	l.people[person]++
	return one, nil
}

func (l *live) leave(one *listener) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.drop(one)
}

// drop is leave with the lock held.
func (l *live) drop(one *listener) {
	if !l.listeners[one] {
		return
	}
	delete(l.listeners, one)
	if l.people[one.person]--; l.people[one.person] == 0 {
		delete(l.people, one.person)
	}
	close(one.moves)
	if len(l.listeners) == 0 && l.stop != nil {
		l.stop()
		l.stop = nil
	}
}

// close lets everybody go, so that a server that stops waits for nobody who only listens.
func (l *live) close() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.closed = true
	for one := range l.listeners {
		l.drop(one)
	}
}

// watch asks what has moved since it began, which is when ready is closed, until ctx ends. A fault is logged once, and told again when it
// has been over.
func (l *live) watch(ctx context.Context, ready chan<- struct{}) {
	position, known, faulty := int64(0), false, false
	for {
		var moved []service.Moved
		var err error
		if !known {
			position, err = l.last(ctx)
			if known = err == nil; known {
				close(ready)
			}
		} else if moved, position, err = l.moved(ctx, position); err == nil && len(moved) > 0 {
			l.tell(ctx, moved)
		}
		if err != nil && ctx.Err() == nil && !faulty {
			l.fault(err)
		}
		faulty = err != nil
		select {
		case <-ctx.Done():
			return
		case <-time.After(l.poll):
		}
	}
}

// tell hands over what has moved; who does not take it is let go, and comes again.
func (l *live) tell(ctx context.Context, moved []service.Moved) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if ctx.Err() != nil {
		return // another goroutine watches for who has come since
	}
	for one := range l.listeners {
		select {
		case one.moves <- moved:
		default:
			l.drop(one)
		}
	}
}

// queueLive streams what moves in the queue (WHATWG HTML, server-sent events): what one does oneself is left out.
func (s *Server) queueLive(c *gin.Context) {
	actor := actorOf(c)
	if !review.May(actor, review.ActReadQueue, "") {
		s.fail(c, review.Forbidden(actor, review.ActReadQueue, ""))
		return
	}
	one, err := s.live.enter(actor.Person)
	if err != nil {
		s.fail(c, err)
		return
	}
	if one == nil {
		p := newProblem(http.StatusTooManyRequests, "Too many windows are told at once what moves in the queue. This one works without: load it again to see what is new.")
		p.wait = 60
		s.failWith(c, p)
		return
	}
	defer s.live.leave(one)
	select { // who hears that the stream is open is told everything from then on
	case <-one.ready:
	case <-c.Request.Context().Done():
		return
	}
	h := c.Writer.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Accel-Buffering", "no") // some proxies hold back what is not whole otherwise
	h.Set(gzhttp.HeaderNoCompression, "1")
	c.Status(http.StatusOK)
	s.stream(c, one)
}

// stream writes until the sender has gone, the login has ended, or it is time to come again.
func (s *Server) stream(c *gin.Context, one *listener) {
	gone := c.Request.Context().Done()
	if sender, ok := c.Value(keySender).(context.Context); ok {
		gone = sender.Done() // the request's own context ends with the usual time for an answer
	}
	if err := http.NewResponseController(c.Writer).SetReadDeadline(time.Time{}); err != nil { // that of the request: the connection is read on, to see whether it is there
		s.Log.Error("a stream cannot be kept open", "error", err.Error(), "request_id", requestID(c))
		return
	}
	beat, until := time.NewTicker(s.live.beat), time.NewTimer(liveLongest)
	defer beat.Stop()
	defer until.Stop()
	if !s.push(c, fmt.Sprintf("retry: %d\n\n", liveRetryMillis)) {
		return
	}
	for {
		message := ": \n\n"
		select {
		case <-gone:
			return
		case <-until.C:
			return
		case <-beat.C:
			if !s.stillLoggedIn(c) {
				return
			}
		case moved, more := <-one.moves:
			if !more {
				return
			}
			if message = movesMessage(one.person, moved); message == "" {
				continue
			}
		}
		if !s.push(c, message) {
			return
		}
	}
}

// movesMessage is one message of what others have moved; empty where nobody has.
func movesMessage(person string, moved []service.Moved) string {
	others := []service.Moved{}
	for _, m := range moved {
		if m.Actor != person {
			others = append(others, m)
		}
	}
	text, err := json.Marshal(others)
	if err != nil || len(others) == 0 { // strings alone cannot fail
		return ""
	}
	return "event: moved\ndata: " + string(text) + "\n\n"
}

// push writes a message at once, in a time of its own: that of an answer has long passed.
func (s *Server) push(c *gin.Context, message string) bool {
	control := http.NewResponseController(c.Writer)
	if err := control.SetWriteDeadline(time.Now().Add(liveWriting)); err != nil {
		s.Log.Error("a stream cannot be bounded", "error", err.Error(), "request_id", requestID(c))
		return false
	}
	if _, err := c.Writer.WriteString(message); err != nil {
		return false
	}
	return control.Flush() == nil
}

// stillLoggedIn looks again: a login that was ended hears nothing more.
func (s *Server) stillLoggedIn(c *gin.Context) bool {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(c.Request.Context()), liveWriting)
	defer cancel()
	account, err := s.accountOf(ctx, c)
	return err == nil && review.May(account.Actor(), review.ActReadQueue, "")
}

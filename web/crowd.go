package web

import (
	"log/slog"
	"net"
	"net/http"
	"sync"
	"time"

	"github.com/gin-gonic/gin"

	"revidit/auth"
)

// Bounds for one address (IPv6: its first 64 bits). They are our own choice (common practice, no source): a browser opens
// six connections, and a meeting of a club behind one address stays below both.
const (
	// DefaultConnections are open at a time, but for those of proxies that are believed, which are everybody's.
	DefaultConnections = 200
	// DefaultBodies are not yet read whole at a time, by the address of the person and not by that of the proxy.
	DefaultBodies = 100
)

// crowd counts what is there of each address. It is safe for concurrent use.
type crowd struct {
	most int
	mu   sync.Mutex
	here map[string]*visitor
}

type visitor struct {
	n    int
	told bool // that no more were let in, since there were none
}

func newCrowd(most int) *crowd { return &crowd{most: most, here: map[string]*visitor{}} }

// enter counts one more from an address, who leaves again, or does not let it in. first says that it is the first one of
// a crowd that was not let in, so that a flood of them is one line in the log.
func (w *crowd) enter(address string) (ok, first bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	v := w.here[address]
	if v == nil {
		v = &visitor{}
		w.here[address] = v
	}
	if v.n >= w.most {
		first, v.told = !v.told, true
		return false, first
	}
	v.n++
	return true, false
}

func (w *crowd) leave(address string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	v := w.here[address]
	if v.n--; v.n == 0 {
		delete(w.here, address)
	}
}

// boundConnections closes connections of an address that has too many. It is the ConnState of a server.
func (s *Server) boundConnections() func(net.Conn, http.ConnState) {
	open, counted := newCrowd(s.MostConnections), sync.Map{}
	return func(conn net.Conn, state http.ConnState) {
		switch state {
		case http.StateNew:
			remote := conn.RemoteAddr().String()
			if s.proxies.contain(remote) {
				return
			}
			host, _, err := net.SplitHostPort(remote)
			if err != nil { // a socket without addresses is on this machine
				return
			}
			address := auth.AddressKey(host)
			ok, first := open.enter(address)
			if ok {
				counted.Store(conn, address)
				return
			}
			if first {
				s.security(slog.LevelWarn, "too many connections", "", host, "")
			}
			conn.Close() // the server finds it closed at its first reading
		case http.StateClosed, http.StateHijacked:
			if address, ok := counted.LoadAndDelete(conn); ok {
				open.leave(address.(string))
			}
		}
	}
}

// countedBody leaves the crowd when it has been read, or cannot be.
type countedBody struct {
	pacedBody
	leave func()
}

func (b *countedBody) Read(p []byte) (int, error) {
	n, err := b.pacedBody.Read(p)
	if err != nil {
		b.leave()
	}
	return n, err
}

// receive watches how fast the body of a request arrives, and refuses it where too many from the same address are
// arriving already. leave is to be called at the end of the request.
func (s *Server) receive(c *gin.Context) (leave func(), ok bool) {
	if c.Request.ContentLength == 0 {
		return func() {}, true
	}
	body, address := paced(c), auth.AddressKey(c.ClientIP())
	ok, first := s.bodies.enter(address)
	if !ok {
		if first {
			s.refused(c, "too many bodies at once")
		}
		s.refuseBody(c, &body)
		return nil, false
	}
	leave = sync.OnceFunc(func() { s.bodies.leave(address) })
	c.Request.Body = &countedBody{pacedBody: body, leave: leave}
	return leave, true
}

// refuseBody answers without having read the body, and does not wait for its rest.
func (s *Server) refuseBody(c *gin.Context, body *pacedBody) {
	if err := body.until(time.Now()); err != nil {
		s.fail(c, err)
		return
	}
	c.Header("Connection", "close")
	p := newProblem(http.StatusTooManyRequests, "Too much is being sent from your address at the same time. Nothing of this was stored; wait a few seconds and send it again.")
	p.wait = 5
	s.failWith(c, p)
}

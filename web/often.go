package web

import (
	"fmt"
	"math"
	"net/http"
	"strings"
	"sync"
	"time"

	"github.com/gin-gonic/gin"
	"golang.org/x/time/rate"

	"revidit/auth"
)

// How often somebody may send files and save drafts, in a minute on end, in each process. They are our own choice (common practice, no
// source): a form saves itself once every few seconds, and a tray of photos is sent in one go, for which there are five minutes' worth at
// once. An address, which may be a whole meeting of a club, has four times as much.
const (
	DefaultUploads = 60
	DefaultDrafts  = 60

	oftenAtOnce  = 5 // minutes' worth
	oftenAddress = 4 // accounts' worth
)

// rareRoutes are those that are counted, as gin writes them.
var (
	uploadRoutes = []string{"/photos", "/archive/intakes", "/inventory", "/inventory/:id/reading",
		apiPrefix + "/photos", apiPrefix + "/intakes", apiPrefix + "/groups/:group/imports"}
	draftRoutes = []string{"/submissions", "/submissions/tray", beginPath, "/submissions/:id/edit", "/submissions/:id/ask",
		apiPrefix + "/submissions", apiPrefix + "/submissions/:id"}
)

// oftenness counts how often something is done, by account and by address. It is safe for concurrent use.
type oftenness struct {
	perMinute int
	now       func() time.Time
	mu        sync.Mutex
	seen      map[string]*rate.Limiter
}

func newOftenness(perMinute int) *oftenness {
	return &oftenness{perMinute: perMinute, now: time.Now, seen: map[string]*rate.Limiter{}}
}

// take counts one more of an account from an address, or says how long to wait; then nothing is counted.
func (o *oftenness) take(account, address string) (wait time.Duration) {
	o.mu.Lock()
	defer o.mu.Unlock()
	now := o.now()
	o.forget(now)
	byAccount := o.of("account "+account, 1).ReserveN(now, 1)
	byAddress := o.of("address "+address, oftenAddress).ReserveN(now, 1)
	if wait = max(byAccount.DelayFrom(now), byAddress.DelayFrom(now)); wait > 0 {
		byAccount.CancelAt(now)
		byAddress.CancelAt(now)
	}
	return wait
}

func (o *oftenness) of(key string, times int) *rate.Limiter {
	l := o.seen[key]
	if l == nil {
		perMinute := o.perMinute * times
		l = rate.NewLimiter(rate.Limit(float64(perMinute)/60), perMinute*oftenAtOnce)
		o.seen[key] = l
	}
	return l
}

// mostSeen is how many accounts and addresses are remembered before those are forgotten who have waited long enough.
const mostSeen = 10_000

func (o *oftenness) forget(now time.Time) {
	if len(o.seen) < mostSeen {
		return
	}
	for key, l := range o.seen {
		if l.TokensAt(now) >= float64(l.Burst()) {
			delete(o.seen, key)
		}
	}
}

// seldom refuses what is sent too often, before its body is read. What a form holds is kept.
func (s *Server) seldom(c *gin.Context) {
	often := s.rare[c.Request.Method+" "+c.FullPath()]
	person := actorOf(c).Person
	if often == nil || person == "" {
		return
	}
	wait := often.take(person, auth.AddressKey(c.ClientIP()))
	if wait == 0 {
		return
	}
	s.refused(c, "too often")
	seconds := int(math.Ceil(wait.Seconds()))
	p := problemf(http.StatusTooManyRequests, "More is being sent from your account or address than people send. Nothing of this was stored, and what was stored before is safe; wait %d seconds and send it again.", seconds)
	p.wait = seconds
	if !strings.HasPrefix(c.Request.URL.Path, apiPrefix) {
		c.Set(keyFormer, person)
		p.kept = s.keepForm(c)
	}
	s.failWith(c, p)
}

// rarely is what is counted, by method and route.
func rarely(uploads, drafts int) (map[string]*oftenness, error) {
	if uploads < 0 || drafts < 0 {
		return nil, fmt.Errorf("web: how often something may be sent is positive")
	}
	found := map[string]*oftenness{}
	for _, one := range []struct {
		routes []string
		often  *oftenness
	}{{uploadRoutes, newOftenness(uploads)}, {draftRoutes, newOftenness(drafts)}} {
		for _, route := range one.routes {
			found[http.MethodPost+" "+route], found[http.MethodPut+" "+route] = one.often, one.often
		}
	}
	return found, nil
}

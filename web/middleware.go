package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"runtime/debug"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"revidit/auth"
	"revidit/review"
)

// Keys under which middleware leaves things in a gin.Context.
const (
	keyRequestID = "request-id"
	keyActor     = "actor"
	keyLogin     = "login"  // of the account that acts
	keySecond    = "second" // whether the account asks for a second factor, or the provider has said that it was used
	keyWay       = "way"    // by which the login was begun, as of auth.Session
	keyFormer    = "former" // the person whose login has ended, by the token that came
	keyServer    = "server"
	keySender    = "sender" // the context that ends when the sender has gone
)

// actorOf is who acts in a request; the zero Actor where nobody is logged in.
func actorOf(c *gin.Context) review.Actor {
	actor, _ := c.Value(keyActor).(review.Actor)
	return actor
}

// requestID is the UUID under which a request stands in the log.
func requestID(c *gin.Context) string { return c.GetString(keyRequestID) }

// identify gives the request an id. An id sent by the client is not taken over: it would let anybody write the log.
func (s *Server) identify(c *gin.Context) {
	id := uuid.NewString()
	c.Set(keyRequestID, id)
	c.Set(keyServer, s)
	c.Header("X-Request-Id", id)
}

// record logs the request by its route, so that neither ids nor queries, bodies or tokens reach the log.
func (s *Server) record(c *gin.Context) {
	began := time.Now()
	c.Next()
	route := c.FullPath()
	if route == "" {
		route = "(none)"
	}
	s.Log.Info("request", "method", c.Request.Method, "route", route, "status", c.Writer.Status(),
		"ms", time.Since(began).Milliseconds(), "request_id", requestID(c))
}

// rescue turns a panic into "Internal error"; gin.CustomRecovery would put cookies into the log.
func (s *Server) rescue(c *gin.Context) {
	defer func() {
		fault := recover()
		if fault == nil {
			return
		}
		if err, ok := fault.(error); ok && errors.Is(err, http.ErrAbortHandler) {
			panic(fault)
		}
		s.Log.Error("panic", "fault", fmt.Sprint(fault), "route", c.FullPath(), "request_id", requestID(c), "stack", string(debug.Stack()))
		if c.Writer.Written() {
			c.Abort()
			return
		}
		s.failWith(c, newProblem(http.StatusInternalServerError, internalError))
	}()
	c.Next()
}

// contentPolicy lets a page load nothing from elsewhere and run no script that stands in the page itself.
const contentPolicy = "default-src 'self'; img-src 'self' blob: data:; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"

// openedByAnother tells whether another site may have opened this page and hold a reference to its window, which is then cut. The
// policy that does so makes browsers start a process anew when the page has already come, some tenths of a second on a slow phone
// (measured with Lighthouse 12): who typed the address or comes from one of our pages need not wait for it. Browsers that do not
// say where they come from (W3C Fetch Metadata) are taken for such.
func openedByAnother(c *gin.Context) bool {
	from := c.GetHeader("Sec-Fetch-Site")
	return from != "none" && from != "same-origin"
}

func (s *Server) harden(c *gin.Context) {
	c.Header("Content-Security-Policy", contentPolicy)
	c.Header("X-Content-Type-Options", "nosniff")
	c.Header("Referrer-Policy", "same-origin")
	if openedByAnother(c) {
		c.Header("Cross-Origin-Opener-Policy", "same-origin")
	}
	c.Header("Cross-Origin-Resource-Policy", "same-origin")
	c.Header("Permissions-Policy", "camera=(), geolocation=(), microphone=()")
	// What one person may see is no business of a cache between; handlers of fixed files say otherwise.
	c.Header("Cache-Control", "private, no-cache")
	c.Header("Vary", "Authorization, Cookie, Accept-Language, Sec-Fetch-Site")
	// Only over TLS (RFC 6797 section 7.2): elsewhere anybody on the way could have said so.
	if s.overTLS(c) {
		c.Header("Strict-Transport-Security", "max-age=31536000; includeSubDomains")
	}
}

// checkOrigin refuses changes that another site makes a browser send. It runs before every route, unknown ones
// included.
func (s *Server) checkOrigin(c *gin.Context) {
	if err := s.origins.Check(c.Request); err != nil {
		s.refused(c, "from another site")
		s.failWith(c, newProblem(http.StatusForbidden, "This request came from another site, so nothing was changed. Open Revidit itself and try there."))
	}
}

// photoTimeout is how long a request with a photo may take: 32 MB over 2 Mbit/s take two minutes.
const photoTimeout = 3 * time.Minute

// bound limits the size of the body and the time for the work.
func (s *Server) bound(c *gin.Context) {
	timeout := s.Timeout
	c.Set(keySender, c.Request.Context())
	if carriesPhotos(c.Request) {
		timeout = max(timeout, photoTimeout)
	}
	leave, ok := s.receive(c)
	if !ok {
		return
	}
	defer leave()
	c.Request.Body = http.MaxBytesReader(c.Writer, c.Request.Body, bodyLimit(c.Request))
	ctx, cancel := context.WithTimeout(c.Request.Context(), timeout)
	defer cancel()
	c.Request = c.Request.WithContext(ctx)
	c.Next()
}

// refuseBadText refuses addresses and headers that hold no text: a database would fail on them.
func (s *Server) refuseBadText(c *gin.Context) {
	query, err := url.ParseQuery(c.Request.URL.RawQuery)
	if err != nil {
		s.fail(c, review.Invalidf("query", "cannot be read as a query of an address"))
		return
	}
	for name, values := range query {
		if !isText(strings.Join(values, "") + name) {
			s.fail(c, review.Invalidf(strings.ToValidUTF8(name, "?"), "contains characters that are no text"))
			return
		}
	}
	if !isText(c.Request.URL.Path) {
		s.fail(c, review.Errorf(review.KindNotFound, "There is nothing at this address."))
		return
	}
	if !isText(c.GetHeader("Idempotency-Key")) {
		s.fail(c, review.Invalidf("Idempotency-Key", "contains characters that are no text"))
	}
}

func isText(s string) bool { return utf8.ValidString(s) && !strings.ContainsRune(s, 0) }

// resolveActor finds out who acts: from a bearer header, otherwise from the cookie. A login that has ended leaves
// nobody acting, so that public pages still work.
func (s *Server) resolveActor(c *gin.Context) {
	if path := c.Request.URL.Path; path == healthPath || strings.HasPrefix(path, "/static/") || isPublic(c) {
		return
	}
	_, bearer := bearerToken(c.GetHeader("Authorization"))
	token := s.tokenOf(c)
	if token == "" {
		return
	}
	account, err := s.accountOf(c.Request.Context(), c)
	switch {
	case err == nil:
		c.Set(keyActor, account.Actor())
		c.Set(keyLogin, account.Login)
		c.Set(keySecond, account.SecondFactor || account.Way == auth.BySecondProvider)
		c.Set(keyWay, account.Way)
		speakAs(c, account.Language)
		s.checkAct(c, account.Actor())
	case review.KindOf(err) != review.KindUnknownActor:
		s.fail(c, err)
	default:
		c.Set(keyFormer, s.Accounts.Former(token))
		s.ended(c, token)
		if page := !strings.HasPrefix(c.Request.URL.Path, apiPrefix); !bearer && (!page || c.GetString(keyFormer) == "") {
			// One of ours stays with pages: it tells whose a form is that is sent with it.
			s.clearSession(c)
		}
	}
}

// checkAct refuses, before anything is read, what the permission table allows to nobody in the role of whoever asks: of what concerns
// no submission, and of a machine in any case. Whose a thing is, and how it stands, each act asks for itself.
func (s *Server) checkAct(c *gin.Context, actor review.Actor) {
	act, known := actOfRoute[c.Request.Method+" "+c.FullPath()]
	machine := actor.Role == review.RoleMachine
	switch {
	case !known:
	case machine && !strings.HasPrefix(c.FullPath(), apiPrefix):
		s.fail(c, review.Errorf(review.KindForbidden, "Pages are for people: a machine does what its token was given for by %s. Nothing was changed.", apiPrefix))
	case !review.Ever(actor, act) && (machine || !review.OnSubmissions(act)):
		s.fail(c, review.Forbidden(actor, act, ""))
	}
}

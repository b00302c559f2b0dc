package web

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"revidit/auth"
	"revidit/review"
	"revidit/web/words/problems"
)

// internalError is all that a person hears of a fault of ours; the log has the rest under the request id.
const internalError = "Internal error. It has been logged; tell the keeper of this server the request id. What was stored before is safe."

// apiPrefix begins the addresses of the API.
const apiPrefix = "/api/v1"

// problemMedia is the media type of a problem (RFC 9457 section 3).
const problemMedia = "application/problem+json"

// Problem is an error as RFC 9457 describes it. Type is about:blank where a problem means what its status means; the one
// kind that means more has a type of its own, which is a place in the OpenAPI document.
type Problem struct {
	Type     string                `json:"type" example:"about:blank" doc:"about:blank where the status says what kind of problem it is; /api/v1/openapi.json#/components/responses/BlindFirst where the caller is to look blind first"`
	Title    string                `json:"title" example:"Bad Request" doc:"Phrase of the status, or of the type"`
	Status   int                   `json:"status" example:"400" doc:"HTTP status"`
	Detail   string                `json:"detail" doc:"What happened, what is safe, what to do, in the language of Accept-Language or else of the caller"`
	Code     string                `json:"code,omitempty" example:"must-filled-in" doc:"Names what happened in every language and every wording; missing where nothing more is known than the status"`
	Instance string                `json:"instance" example:"urn:uuid:0b1c7f2e-6c1d-4f5e-9d57-0d8a3f2a7c11" doc:"Request id, as it stands in the log"`
	Errors   []review.FieldProblem `json:"errors,omitempty" nullable:"false" doc:"Fields that are wrong"`
	Blind    string                `json:"blind,omitempty" example:"/api/v1/submissions/0b1c7f2e-6c1d-4f5e-9d57-0d8a3f2a7c11/blind" doc:"Where the caller is to look blind first; missing while that submission is with its owner"`

	wording *review.Wording // of Detail

	look string      // id of the submission that Blind is about
	wait int         // seconds, for Retry-After
	kept string      // address at which what was sent is kept
	kind review.Kind // of the error, where it has one
}

// Error makes a Problem an error, which huma asks for.
func (p *Problem) Error() string { return p.Detail }

// GetStatus is the HTTP status, for huma.
func (p *Problem) GetStatus() int { return p.Status }

// ContentType is the media type of the answer, for huma.
func (p *Problem) ContentType(string) string { return problemMedia }

// newProblem is one of which detail, in English, says everything.
func newProblem(status int, detail string, fields ...review.FieldProblem) *Problem {
	return &Problem{Type: "about:blank", Title: http.StatusText(status), Status: status, Detail: detail, Errors: fields, wording: &review.Wording{Format: detail}}
}

// problemf is one of a format with places.
func problemf(status int, format string, args ...any) *Problem {
	p := newProblem(status, fmt.Sprintf(format, args...))
	p.wording = &review.Wording{Format: format, Args: args}
	return p
}

// in says a problem in the language of a context, and gives it its codes.
func (p *Problem) in(ctx context.Context) {
	p.Code = cmp.Or(problems.Code(p.wording), string(p.kind))
	p.Detail = problems.Say(ctx, p.Detail, p.wording)
	if len(p.Errors) > 0 {
		p.Errors = problems.Fields(ctx, p.Errors)
	}
}

// statusOf is the one map from kinds of errors to HTTP.
var statusOf = map[review.Kind]int{
	review.KindInvalid:      http.StatusBadRequest,
	review.KindUnknownActor: http.StatusUnauthorized,
	review.KindForbidden:    http.StatusForbidden,
	review.KindNotFound:     http.StatusNotFound,
	review.KindConflict:     http.StatusConflict,
	review.KindStale:        http.StatusPreconditionFailed,
	review.KindBlind:        http.StatusConflict,
	review.KindTooMany:      http.StatusTooManyRequests,
	review.KindDown:         http.StatusServiceUnavailable,
	review.KindFull:         http.StatusInsufficientStorage,
	review.KindDamaged:      http.StatusInternalServerError,
}

// waitOf is after how many seconds a request is worth another try, where nobody has to mend anything first or where that may
// have been done: long enough not to add to the trouble.
var waitOf = map[int]int{http.StatusServiceUnavailable: 5, http.StatusInsufficientStorage: 60}

// Type and title of the problem that the caller is to look blind before anything is shown.
const (
	blindName  = "BlindFirst"
	blindType  = apiPrefix + "/openapi.json#/components/responses/" + blindName
	blindTitle = "To be looked at blind first"
)

func blindProblem(p *Problem, look string) *Problem {
	p.Type, p.Title, p.look = blindType, blindTitle, look
	if look != "" {
		p.Blind = apiPrefix + "/submissions/" + url.PathEscape(look) + "/blind"
	}
	return p
}

// problemOf says an error in HTTP. ok is false for a fault of ours, which belongs in the log.
func problemOf(err error) (p *Problem, ok bool) {
	var known *review.Error
	var many *auth.TooManyError
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &p):
		return p, true
	case errors.As(err, &known):
		status, mapped := statusOf[known.Kind]
		if !mapped {
			return newProblem(http.StatusInternalServerError, internalError), false
		}
		p = newProblem(status, known.Message, known.Fields...)
		p.kind, p.wording = known.Kind, known.Wording()
		if known.Kind == review.KindBlind {
			return blindProblem(p, known.Look), true
		}
		return p, true
	case errors.As(err, &many):
		p = problemf(http.StatusTooManyRequests, auth.TooManyWords, many.Seconds())
		p.wait = int(math.Ceil(many.Wait.Seconds()))
		return p, true
	case errors.As(err, &large):
		return problemf(http.StatusRequestEntityTooLarge, "This is larger than %d bytes. Nothing was stored; send less at once.", large.Limit), true
	case errors.Is(err, context.DeadlineExceeded), errors.Is(err, context.Canceled):
		return newProblem(http.StatusServiceUnavailable, "This took too long and was given up. Look whether it was stored, and try again in a while."), true
	}
	return newProblem(http.StatusInternalServerError, internalError), false
}

// problem says an error in HTTP, logs it where it is a fault of ours, and sets the headers that belong to it.
func (s *Server) problem(c *gin.Context, err error) *Problem {
	found, ok := problemOf(err)
	if !ok || found.kind != "" && found.Status >= http.StatusInternalServerError {
		s.Log.Error("fault", "error", err.Error(), "route", c.FullPath(), "request_id", requestID(c))
	}
	p := *found
	if p.Status == http.StatusForbidden {
		s.refused(c, "forbidden")
	}
	s.finish(c, &p)
	return &p
}

func (s *Server) finish(c *gin.Context, p *Problem) {
	p.in(c.Request.Context())
	p.Instance = "urn:uuid:" + requestID(c)
	c.Header("Cache-Control", "no-store")
	if p.Status == http.StatusUnauthorized {
		c.Header("WWW-Authenticate", "Bearer")
	}
	retryAfter(c, cmp.Or(p.wait, waitOf[p.Status]))
}

func retryAfter(c *gin.Context, seconds int) {
	if seconds > 0 {
		c.Header("Retry-After", strconv.Itoa(seconds))
	}
}

// fail answers with an error and ends the request: problem JSON under /api, a page elsewhere.
func (s *Server) fail(c *gin.Context, err error) { s.show(c, s.problem(c, err)) }

func (s *Server) failWith(c *gin.Context, p *Problem) {
	s.finish(c, p)
	s.show(c, p)
}

func (s *Server) show(c *gin.Context, p *Problem) {
	c.Abort()
	switch {
	case strings.HasPrefix(c.Request.URL.Path, "/api/"):
		writeProblem(c, p)
	case s.problemPage != nil:
		s.problemPage(c, p)
	default:
		c.String(p.Status, "%s\n\n%s\n", p.Title, p.Detail)
	}
}

func writeProblem(c *gin.Context, p *Problem) {
	c.Header("Content-Type", problemMedia)
	c.JSON(p.Status, p)
}

package web

import (
	"context"
	"net/http"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/web/pages"
	"revidit/web/words"
)

// toldStatuses are those whose error pages have words of their own.
var toldStatuses = []int{http.StatusBadRequest, http.StatusForbidden, http.StatusNotFound, http.StatusMethodNotAllowed, http.StatusConflict,
	http.StatusRequestEntityTooLarge, http.StatusTooManyRequests, http.StatusInternalServerError, http.StatusServiceUnavailable}

// faults take the place of the status for what the storage behind the service cannot do.
var faults = map[review.Kind]string{review.KindDown: "down", review.KindFull: "full", review.KindDamaged: "damaged"}

// errorWords are the parts of an error page that do not stand in the error itself.
func errorWords(ctx context.Context, p *Problem, status int) pages.ErrorData {
	about := strconv.Itoa(http.StatusInternalServerError)
	known := slices.Contains(toldStatuses, status)
	if known {
		about = strconv.Itoa(status)
	}
	if fault, ok := faults[p.kind]; ok {
		about, known = fault, true
	}
	if p.Type == blindType { // somebody is to look blind at what is with its owner
		about, known = "waiting", true
	}
	d := pages.ErrorData{Title: p.Title, Safe: words.T(ctx, "error.safe-"+about), Do: words.T(ctx, "error.do-"+about)}
	if known {
		d.Title = words.T(ctx, "error.title-"+about)
	}
	return d
}

// showProblem is the page of an error that belongs on no form.
func (s *Server) showProblem(c *gin.Context, p *Problem) {
	if p.Status == http.StatusUnauthorized {
		s.askForLogin(c)
		return
	}
	if p.look != "" {
		seeOther(c, blindPath(p.look))
		return
	}
	status := p.Status
	if status == http.StatusPreconditionFailed {
		status = http.StatusConflict
	}
	d := errorWords(c.Request.Context(), p, status)
	d.Happened, d.Kept = p.Detail, p.kept
	for _, field := range p.Errors {
		d.Happened += " " + field.Field + ": " + field.Message + "."
	}
	if status >= http.StatusInternalServerError {
		d.RequestID = requestID(c)
	}
	s.page(c, status, pages.ErrorPage(s.site(c), d))
}

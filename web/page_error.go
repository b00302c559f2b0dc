package web

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/web/pages"
)

// errorWords are the parts of an error page that its status decides; Happened is the error's own message.
var errorWords = map[int]pages.ErrorData{
	http.StatusBadRequest: {Title: "This could not be read", Safe: "Nothing was stored or changed.",
		Do: "Go back, correct it and send it again."},
	http.StatusForbidden: {Title: "You may not do this", Safe: "Nothing was changed.",
		Do: "Ask a curator, if it should be."},
	http.StatusNotFound: {Title: "There is nothing here", Safe: "Nothing was changed.",
		Do: "Look at the address. What you look for may be a draft that only its owner sees."},
	http.StatusMethodNotAllowed: {Title: "This address does not do that", Safe: "Nothing was changed.",
		Do: "Go back and use the buttons of the page."},
	http.StatusConflict: {Title: "It has changed in the meantime", Safe: "What stood there before is stored; nothing of this request is.",
		Do: "Go back, look at it as it is now, and try again."},
	http.StatusRequestEntityTooLarge: {Title: "This is too large", Safe: "Nothing of this request was stored. Photos that were uploaded before are kept.",
		Do: "Go back and send fewer photos at once, each of 32 MB at most."},
	http.StatusTooManyRequests: {Title: "Too many attempts", Safe: "Nothing was changed.",
		Do: "Wait a while and try again."},
	http.StatusServiceUnavailable: {Title: "This took too long", Safe: "What was stored before is safe.",
		Do: "Look whether it was stored, and try again in a while."},
	http.StatusInternalServerError: {Title: "A fault of ours", Safe: "What was stored before is safe.",
		Do: "Try again. If it stays, tell the keeper of this server the number of the request."},
}

// faultWords take the place of errorWords for what the storage behind the service cannot do.
var faultWords = map[review.Kind]pages.ErrorData{
	review.KindDown: {Title: "Not possible just now", Safe: "What was stored before is safe, and the browser still has what you typed.",
		Do: "Wait a moment, go back and send it again. If it stays, tell the keeper of this server the number of the request."},
	review.KindFull: {Title: "There is no room left", Safe: "What was stored before is safe, and can be read. The browser still has what you typed.",
		Do: "Tell the keeper of this server; when there is room, go back and send it again."},
	review.KindDamaged: {Title: "Something stored is damaged", Safe: "Everything else is as it was.",
		Do: "Tell the keeper of this server the number of the request."},
}

// waitingWords are for somebody who is to look blind at what is with its owner.
var waitingWords = pages.ErrorData{Title: "Not yet", Safe: "Nothing was changed.",
	Do: "Look again when it has come back: the queue shows it then. Nothing of it is shown before, so that your look is one of its own."}

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
	words, known := errorWords[status]
	if !known {
		words = errorWords[http.StatusInternalServerError]
		words.Title = p.Title
	}
	if fault, known := faultWords[p.kind]; known {
		words = fault
	}
	if p.Type == blindType {
		words = waitingWords
	}
	words.Happened = p.Detail
	for _, field := range p.Errors {
		words.Happened += " " + field.Field + ": " + field.Message + "."
	}
	if status >= http.StatusInternalServerError {
		words.RequestID = requestID(c)
	}
	s.page(c, status, pages.ErrorPage(s.site(c), words))
}

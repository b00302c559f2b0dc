package web

import (
	"context"
	"net/http"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/web/pages"
	"revidit/web/words"
)

// mailPage is where somebody chooses what they are sent.
func (s *Server) mailPage(c *gin.Context) {
	view, err := s.Service.Mail(c.Request.Context(), actorOf(c))
	if err != nil {
		s.fail(c, err)
		return
	}
	form := pages.NewForm(map[string][]string{"address": {view.Address}, "rhythm": {string(view.Rhythm)}})
	for _, code := range view.Codes {
		form.Values["codes"] = append(form.Values["codes"], string(code))
	}
	s.showMail(c, http.StatusOK, pages.MailData{View: view, Form: form, Saved: c.Query("saved") != ""})
}

func (s *Server) showMail(c *gin.Context, status int, d pages.MailData) {
	s.pageOfAll(c, status, func(site pages.Site) templ.Component { return pages.Mail(site, d) })
}

func (s *Server) chooseMail(c *gin.Context) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	form := review.MailForm{Address: sent.get("address"), Rhythm: review.MailRhythm(sent.get("rhythm"))}
	for _, code := range sent.values["codes"] {
		form.Codes = append(form.Codes, review.NewsCode(code))
	}
	err = s.Service.ChooseMail(c.Request.Context(), actorOf(c), form)
	if err == nil {
		seeOther(c, "/mail?saved=yes")
		return
	}
	view, readErr := s.Service.Mail(c.Request.Context(), actorOf(c))
	if readErr != nil || !again(err) {
		s.fail(c, err)
		return
	}
	s.showMail(c, pageStatus(err), pages.MailData{View: view, Form: pages.NewForm(sent.values).Failed(c.Request.Context(), err, nil)})
}

// A link of a letter does nothing when it is opened: programs that look through mail open links, too. It asks, and does what it
// says when the button is pressed.

func (s *Server) unsubscribePage(c *gin.Context) {
	ctx := c.Request.Context()
	s.page(c, http.StatusOK, pages.Link(s.site(c), pages.LinkData{Title: words.T(ctx, "mail.end-title"), Words: words.T(ctx, "mail.end-words"),
		Button: words.T(ctx, "mail.end-button"), Action: c.Request.URL.EscapedPath()}))
}

// unsubscribe is pressed by a person, or by the program that reads mail (RFC 8058).
func (s *Server) unsubscribe(c *gin.Context) {
	ctx := c.Request.Context()
	s.followLink(c, s.Service.Unsubscribe, pages.LinkData{Title: words.T(ctx, "mail.end-title"), Done: true, Words: words.T(ctx, "mail.ended")})
}

func (s *Server) confirmPage(c *gin.Context) {
	ctx := c.Request.Context()
	s.page(c, http.StatusOK, pages.Link(s.site(c), pages.LinkData{Title: words.T(ctx, "mail.confirm-title"), Words: words.T(ctx, "mail.confirm-words"),
		Button: words.T(ctx, "mail.confirm-button"), Action: c.Request.URL.EscapedPath()}))
}

func (s *Server) confirmAddress(c *gin.Context) {
	ctx := c.Request.Context()
	s.followLink(c, s.Service.ConfirmAddress, pages.LinkData{Title: words.T(ctx, "mail.confirmed-title"), Done: true, Words: words.T(ctx, "mail.confirmed")})
}

func (s *Server) followLink(c *gin.Context, do func(context.Context, string) error, done pages.LinkData) {
	if err := do(c.Request.Context(), c.Param("token")); err != nil {
		s.fail(c, err)
		return
	}
	s.page(c, http.StatusOK, pages.Link(s.site(c), done))
}

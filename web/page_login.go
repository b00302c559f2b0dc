package web

import (
	"errors"
	"log/slog"
	"net/http"

	"github.com/gin-gonic/gin"

	"revidit/auth"
	"revidit/review"
	"revidit/web/pages"
)

func (s *Server) loginPage(c *gin.Context) {
	next := localPath(c.Query("next"))
	if actorOf(c).Person != "" {
		seeOther(c, next)
		return
	}
	d := s.loginData(pages.NewForm(nil), next)
	d.PasswordSet, d.LeftProvider = c.Query("set") != "", c.Query("out") == "provider"
	s.page(c, http.StatusOK, pages.Login(s.site(c), d))
}

func (s *Server) loginData(form pages.Form, next string) pages.LoginData {
	return pages.LoginData{Form: form, Next: next, Invented: s.Invented, PasskeyOrigin: s.Accounts.PasskeyOrigin(), Provider: s.Accounts.ProviderHost()}
}

func (s *Server) login(c *gin.Context) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	next := localPath(sent.get("next"))
	entry, err := s.Accounts.Enter(c.Request.Context(), sent.get("login"), sent.get("password"), clientOf(c))
	if err == nil {
		s.entered(c, entry, next)
		return
	}
	s.showLogin(c, err, sent.get("login"), next)
}

// showLogin shows the login page again, with what went wrong.
func (s *Server) showLogin(c *gin.Context, err error, login, next string) {
	var many *auth.TooManyError
	if !errors.As(err, &many) && review.KindOf(err) != review.KindUnknownActor && review.KindOf(err) != review.KindInvalid {
		s.fail(c, err)
		return
	}
	s.showLoginAgain(c, err, login, next)
}

func (s *Server) showLoginAgain(c *gin.Context, err error, login, next string) {
	// problem also sets Retry-After.
	p := s.problem(c, err)
	form := pages.NewForm(map[string][]string{"login": {login}})
	form.Message = p.Detail
	s.page(c, p.Status, pages.Login(s.site(c), s.loginData(form, next)))
}

// logout ends this login, for whoever may have a copy of its token too; logins elsewhere go on, that of the provider among them, which the
// page says.
func (s *Server) logout(c *gin.Context) {
	if err := s.Accounts.Logout(c.Request.Context(), s.tokenOf(c)); err != nil {
		s.fail(c, err)
		return
	}
	if login := c.GetString(keyLogin); login != "" {
		s.security(slog.LevelInfo, "logged out", login, c.ClientIP(), requestID(c))
	}
	s.clearSession(c)
	c.Header("Clear-Site-Data", clearsAtLogout)
	if c.GetString(keyWay) != "" {
		seeOther(c, "/login?out=provider")
		return
	}
	seeOther(c, "/login")
}

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
	s.page(c, http.StatusOK, pages.Login(s.site(c), pages.LoginData{Form: pages.NewForm(nil), Next: next, Invented: s.Invented, PasswordSet: c.Query("set") != ""}))
}

func (s *Server) login(c *gin.Context) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	next := localPath(sent.get("next"))
	token, _, err := s.Accounts.Enter(c.Request.Context(), sent.get("login"), sent.get("password"), clientOf(c))
	if err == nil {
		s.setSession(c, token)
		seeOther(c, next)
		return
	}
	var many *auth.TooManyError
	if !errors.As(err, &many) && review.KindOf(err) != review.KindUnknownActor {
		s.fail(c, err)
		return
	}
	// problem also sets Retry-After.
	p := s.problem(c, err)
	form := pages.NewForm(map[string][]string{"login": {sent.get("login")}})
	form.Message = p.Detail
	s.page(c, p.Status, pages.Login(s.site(c), pages.LoginData{Form: form, Next: next, Invented: s.Invented}))
}

// logout ends this login, for whoever may have a copy of its token too; logins elsewhere go on.
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
	seeOther(c, "/login")
}

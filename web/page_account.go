package web

import (
	"log/slog"
	"net/http"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/web/pages"
)

const securityInfo = slog.LevelInfo

// registerAccountPages adds the page of one's own login, and those of who keeps accounts.
func (s *Server) registerAccountPages(p *gin.RouterGroup) {
	p.GET("/account", s.accountPage)
	p.POST("/account/password", s.changePassword)
	p.POST("/account/logins/end", s.endOtherSessions)
	p.POST("/account/logins/:id/end", s.endSession)
	p.GET("/invitations", s.invitationsPage)
	p.POST("/invitations", s.invite)
	p.POST("/invitations/:id/link", s.renewInvitation)
	p.POST("/invitations/:id/remove", s.takeBackInvitation)
	s.registerFactors(p)
	s.registerOwnProvider(p)
	s.registerDeskPages(p)
}

// accountPage is how somebody logs in, and where they are logged in.
func (s *Server) accountPage(c *gin.Context) {
	s.showAccount(c, http.StatusOK, "", pages.NewForm(nil))
}

func (s *Server) showAccount(c *gin.Context, status int, part string, form pages.Form) {
	ctx := c.Request.Context()
	d := pages.AccountData{Part: part, Form: form, PasskeyOrigin: s.Accounts.PasskeyOrigin(), Need: s.needsSecond(c), Done: c.Query("done"), Login: c.GetString(keyLogin)}
	var err error
	if d.Sessions, d.This, err = s.Accounts.OwnSessions(ctx, s.tokenOf(c)); err != nil {
		s.fail(c, err)
		return
	}
	if d.Factors, err = s.Accounts.OwnFactors(ctx, actorOf(c).Person); err != nil {
		s.fail(c, err)
		return
	}
	if d.UsedTwice, err = s.Accounts.RefreshUsedTwice(ctx, actorOf(c), actorOf(c).Person); err != nil {
		s.fail(c, err)
		return
	}
	if d.Ways, err = s.Accounts.OwnWays(ctx, s.tokenOf(c)); err != nil {
		s.fail(c, err)
		return
	}
	s.pageOfAll(c, status, func(site pages.Site) templ.Component { return pages.Account(site, d) })
}

func (s *Server) changePassword(c *gin.Context) {
	ctx := c.Request.Context()
	sent, err := s.textForm(c)
	if err == nil {
		err = s.Accounts.ChangePassword(ctx, s.tokenOf(c), sent.get("present"), sent.get("password"), c.ClientIP())
	}
	if err == nil {
		s.security(securityInfo, "password changed", c.GetString(keyLogin), c.ClientIP(), requestID(c))
		seeOther(c, "/account?done=password")
		return
	}
	s.accountFailed(c, sent, "password", err)
}

func (s *Server) endOtherSessions(c *gin.Context) {
	if err := s.Accounts.EndOtherSessions(c.Request.Context(), s.tokenOf(c)); err != nil {
		s.fail(c, err)
		return
	}
	s.security(securityInfo, "other logins ended", c.GetString(keyLogin), c.ClientIP(), requestID(c))
	seeOther(c, "/account?done=others")
}

func (s *Server) endSession(c *gin.Context) {
	if err := s.Accounts.EndOwnSession(c.Request.Context(), actorOf(c).Person, c.Param("id")); err != nil {
		s.fail(c, err)
		return
	}
	seeOther(c, "/account?done=one")
}

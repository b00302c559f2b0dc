package web

import (
	"net/http"
	"net/url"
	"time"

	"github.com/gin-gonic/gin"

	"revidit/auth"
	"revidit/review"
	"revidit/web/pages"
)

// ProviderPath is the page to which the OpenID provider sends people back: the address that it has to be told.
const ProviderPath = "/login/provider/end"

// registerProvider adds the ways by the OpenID provider of a museum, before anybody is logged in.
func (s *Server) registerProvider(r *gin.Engine) {
	r.POST("/login/provider", s.beginProviderLogin)
	r.GET(ProviderPath, s.endProvider)
}

// registerOwnProvider adds what somebody does with the own link.
func (s *Server) registerOwnProvider(p *gin.RouterGroup) {
	p.POST("/account/provider", s.linkProvider)
	p.POST("/account/provider/confirm", s.confirmByProvider)
	p.POST("/account/provider/unlink", s.unlinkProvider)
}

// toProvider sends a browser to the provider. The cookie is Lax: it comes back from another site. A page stands between, since the
// content policy lets no form lead there.
func (s *Server) toProvider(c *gin.Context, address, secret string) {
	s.setStep(c, secret, 10*time.Minute, http.SameSiteLaxMode)
	s.onward(c, pages.OnwardData{Address: address, Host: s.Accounts.ProviderHost()})
}

// onward answers with a page that leads on by itself (the header Refresh of the HTML standard, as its meta element).
func (s *Server) onward(c *gin.Context, d pages.OnwardData) {
	c.Header("Refresh", "0; url="+d.Address)
	c.Header("Cache-Control", "no-store")
	s.page(c, http.StatusOK, pages.Onward(s.site(c), d))
}

func (s *Server) beginProviderLogin(c *gin.Context) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	next := localPath(sent.get("next"))
	address, secret, err := s.Accounts.BeginProviderLogin(c.Request.Context(), next, c.ClientIP())
	if err != nil {
		s.providerFailed(c, err, next)
		return
	}
	s.toProvider(c, address, secret)
}

// providerFailed shows the login page, with the other ways in.
func (s *Server) providerFailed(c *gin.Context, err error, next string) {
	if kind := review.KindOf(err); kind == review.KindDown || kind == review.KindConflict {
		s.showLoginAgain(c, err, "", next)
		return
	}
	s.showLogin(c, err, "", next)
}

// joinByProvider is for who was invited and takes the museum's login in place of a password.
func (s *Server) joinByProvider(c *gin.Context) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	form := auth.JoinForm{Name: sent.get("name"), Login: sent.get("login")}
	address, secret, err := s.Accounts.BeginProviderJoin(c.Request.Context(), c.Param("token"), form, c.ClientIP())
	if err != nil {
		s.joinFailed(c, sent, err)
		return
	}
	s.toProvider(c, address, secret)
}

// endProvider is where the provider sends people back to.
func (s *Server) endProvider(c *gin.Context) {
	if s.Accounts.ProviderHost() == "" {
		seeOther(c, "/login")
		return
	}
	answer := auth.ProviderAnswer{Code: c.Query("code"), State: c.Query("state"), Issuer: c.Query("iss"), Error: c.Query("error")}
	entry, err := s.Accounts.EndProvider(c.Request.Context(), s.stepOf(c), s.tokenOf(c), answer, clientOf(c))
	next := localPath(entry.Next)
	c.Request.URL = &url.URL{Path: "/login"} // no page that is shown now names the code
	switch {
	case err != nil && entry.For == auth.ForLink && actorOf(c).Person != "":
		s.forgetStep(c)
		form := pages.NewForm(nil)
		form.Prefix, form.Message = "provider-", s.problem(c, err).Detail
		s.showAccount(c, pageStatus(err), "provider", form)
	case err != nil:
		s.forgetStep(c)
		s.providerFailed(c, err, next)
	case entry.For == auth.ForLink:
		s.forgetStep(c)
		seeOther(c, "/account?done=provider")
	case entry.Token == "":
		s.keepStep(c, entry.Step)
		s.onward(c, pages.OnwardData{Address: secondPath(next)})
	default:
		s.entered(c, entry.Entry, next)
	}
}

func (s *Server) linkProvider(c *gin.Context) {
	sent, err := s.textForm(c)
	var address, secret string
	if err == nil {
		address, secret, err = s.Accounts.BeginProviderLink(c.Request.Context(), s.tokenOf(c), sent.get("present"), c.ClientIP())
	}
	if err != nil {
		s.accountFailed(c, sent, "provider", err)
		return
	}
	s.toProvider(c, address, secret)
}

// confirmByProvider has the provider look again at who has no password.
func (s *Server) confirmByProvider(c *gin.Context) {
	sent, err := s.textForm(c)
	var address, secret string
	if err == nil {
		address, secret, err = s.Accounts.BeginProviderProof(c.Request.Context(), s.tokenOf(c), c.ClientIP())
	}
	if err != nil {
		s.accountFailed(c, sent, "provider", err)
		return
	}
	s.toProvider(c, address, secret)
}

func (s *Server) unlinkProvider(c *gin.Context) {
	sent, err := s.textForm(c)
	if err == nil {
		err = s.Accounts.UnlinkProvider(c.Request.Context(), s.tokenOf(c), sent.get("present"), c.ClientIP())
	}
	if err != nil {
		s.accountFailed(c, sent, "provider", err)
		return
	}
	seeOther(c, "/account?done=unlinked")
}

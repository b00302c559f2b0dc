package web

import (
	"net/http"
	"net/url"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/auth"
	"revidit/review"
	"revidit/web/pages"
	"revidit/web/words"
)

// registerDoors adds the pages by which somebody gets in who is not logged in: by an invitation, or with another password.
func (s *Server) registerDoors(r *gin.Engine) {
	r.GET(joinPath+":token", s.joinPage)
	r.POST(joinPath+":token", s.join)
	r.POST(joinPath+":token/provider", s.joinByProvider)
	r.GET("/password", s.forgottenPage)
	r.POST("/password", s.askForReset)
	r.GET(resetPath+":token", s.resetPage)
	r.POST(resetPath+":token", s.reset)
}

// joinPage asks who was invited for login and password. Looking at it does not use the link up: programs that look through mail open
// links, too.
func (s *Server) joinPage(c *gin.Context) {
	l, err := s.Accounts.Link(c.Request.Context(), review.LinkInvites, c.Param("token"), c.ClientIP())
	if err != nil {
		s.fail(c, err)
		return
	}
	form := pages.NewForm(nil)
	form.Set("name", l.Name)
	s.showJoin(c, http.StatusOK, form, l)
}

func (s *Server) showJoin(c *gin.Context, status int, form pages.Form, l review.AccountLink) {
	s.page(c, status, pages.Join(s.site(c), pages.JoinData{Form: form, Action: joinPath + c.Param("token"), Role: l.Role, Until: l.ExpiresAt, Provider: s.Accounts.ProviderHost()}))
}

func (s *Server) join(c *gin.Context) {
	ctx, token := c.Request.Context(), c.Param("token")
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	form := auth.JoinForm{Name: sent.get("name"), Login: sent.get("login"), Password: sent.get("password")}
	session, err := s.Accounts.Accept(ctx, token, form, clientOf(c))
	if err == nil {
		s.setSession(c, session)
		seeOther(c, "/")
		return
	}
	s.joinFailed(c, sent, err)
}

// joinFailed shows the form of an invitation again.
func (s *Server) joinFailed(c *gin.Context, sent *sentForm, err error) {
	ctx := c.Request.Context()
	l, gone := s.Accounts.Link(ctx, review.LinkInvites, c.Param("token"), c.ClientIP())
	if gone != nil || !again(err) {
		s.fail(c, err)
		return
	}
	s.showJoin(c, pageStatus(err), withoutPasswords(sent).Failed(ctx, err, nil), l)
}

// withoutPasswords is a form as it comes back: passwords are typed again.
func withoutPasswords(sent *sentForm) pages.Form {
	form := pages.NewForm(sent.values)
	for _, secret := range []string{"password", "present", "code"} {
		form.Set(secret, "")
	}
	return form
}

// forgottenPage is for who has forgotten the password.
func (s *Server) forgottenPage(c *gin.Context) {
	s.page(c, http.StatusOK, pages.Forgotten(s.site(c), pages.ForgottenData{Form: pages.NewForm(nil), Sends: s.Accounts.Mails(), Asked: c.Query("asked") != ""}))
}

// askForReset answers alike, and after the same work, whether there is such an account or not.
func (s *Server) askForReset(c *gin.Context) {
	ctx := c.Request.Context()
	sent, err := s.textForm(c)
	if err == nil {
		err = s.Accounts.AskForReset(ctx, sent.get("login"), c.ClientIP())
	}
	if err == nil {
		s.security(securityInfo, "asked for another password", "", c.ClientIP(), requestID(c))
		seeOther(c, "/password?asked=yes")
		return
	}
	if sent == nil || !again(err) {
		s.fail(c, err)
		return
	}
	s.page(c, pageStatus(err), pages.Forgotten(s.site(c), pages.ForgottenData{Form: pages.NewForm(sent.values).Failed(ctx, err, nil), Sends: s.Accounts.Mails()}))
}

// resetPage asks for another password. Looking at it does not use the link up.
func (s *Server) resetPage(c *gin.Context) {
	l, err := s.Accounts.Link(c.Request.Context(), review.LinkResets, c.Param("token"), c.ClientIP())
	if err != nil {
		s.fail(c, err)
		return
	}
	s.showReset(c, http.StatusOK, pages.NewForm(nil), l)
}

func (s *Server) showReset(c *gin.Context, status int, form pages.Form, l review.AccountLink) {
	s.page(c, status, pages.Reset(s.site(c), pages.JoinData{Form: form, Action: c.Request.URL.EscapedPath(), Until: l.ExpiresAt}))
}

func (s *Server) reset(c *gin.Context) {
	ctx, token := c.Request.Context(), c.Param("token")
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	err = s.Accounts.Reset(ctx, token, sent.get("password"), c.ClientIP())
	if err == nil {
		s.clearSession(c)
		seeOther(c, "/login?set=yes")
		return
	}
	l, gone := s.Accounts.Link(ctx, review.LinkResets, token, c.ClientIP())
	if gone != nil || !again(err) {
		s.fail(c, err)
		return
	}
	s.showReset(c, pageStatus(err), withoutPasswords(sent).Failed(ctx, err, nil), l)
}

// Paths of links of accounts, which letters know as well.
const (
	joinPath  = pages.JoinPath
	resetPath = pages.ResetPath
)

// baseURL is where the pages are found, for links that somebody is shown to hand over: as far as the program was told, else where who
// looks has found them.
func (s *Server) baseURL(c *gin.Context) string {
	if s.PublicURL != "" {
		return s.PublicURL
	}
	at := url.URL{Scheme: "http", Host: c.Request.Host}
	if s.secured(c) {
		at.Scheme = "https"
	}
	return at.String()
}

// invitationsPage lists who is invited, with a form that invites somebody.
func (s *Server) invitationsPage(c *gin.Context) {
	s.showInvitations(c, http.StatusOK, pages.InvitationsData{Form: pages.NewForm(map[string][]string{"role": {string(review.RoleMember)}})})
}

func (s *Server) showInvitations(c *gin.Context, status int, d pages.InvitationsData) {
	ctx := c.Request.Context()
	open, err := s.Accounts.Invitations(ctx, actorOf(c))
	if err != nil {
		s.fail(c, err)
		return
	}
	var by []string
	for _, l := range open {
		by = append(by, l.By)
	}
	if d.Names, err = s.Service.Names(ctx, by); err != nil {
		s.fail(c, err)
		return
	}
	d.Open, d.Sends = open, s.Accounts.Mails()
	s.pageOfAll(c, status, func(site pages.Site) templ.Component { return pages.Invitations(site, d) })
}

func (s *Server) invite(c *gin.Context) {
	ctx := c.Request.Context()
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	form := auth.InvitationForm{Name: sent.get("name"), Role: review.Role(sent.get("role")), Address: sent.get("address")}
	made, err := s.Accounts.Invite(ctx, actorOf(c), form)
	if err != nil && again(err) {
		s.showInvitations(c, pageStatus(err), pages.InvitationsData{Form: pages.NewForm(sent.values).Failed(ctx, err, nil)})
		return
	}
	s.handOver(c, made, err)
}

// renewInvitation shows a new link of an invitation.
func (s *Server) renewInvitation(c *gin.Context) {
	made, err := s.Accounts.RenewInvitation(c.Request.Context(), actorOf(c), c.Param("id"))
	s.handOver(c, made, err)
}

// handOver shows the link of an invitation, once, or says that it is sent.
func (s *Server) handOver(c *gin.Context, made auth.Invitation, err error) {
	if err != nil {
		s.fail(c, err)
		return
	}
	if made.Token == "" {
		seeOther(c, "/invitations?sent=yes")
		return
	}
	s.showLink(c, pages.HandOverData{Link: s.baseURL(c) + joinPath + made.Token, Until: made.ExpiresAt, Who: made.Name, Back: "/invitations",
		Words: words.T(c.Request.Context(), "account.link-joins")})
}

func (s *Server) showLink(c *gin.Context, d pages.HandOverData) {
	s.pageOfAll(c, http.StatusOK, func(site pages.Site) templ.Component { return pages.HandOver(site, d) })
}

func (s *Server) takeBackInvitation(c *gin.Context) {
	if err := s.Accounts.TakeBackInvitation(c.Request.Context(), actorOf(c), c.Param("id")); err != nil {
		s.fail(c, err)
		return
	}
	seeOther(c, "/invitations")
}

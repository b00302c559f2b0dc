package web

import (
	"encoding/base64"
	"net/http"
	"strings"
	"time"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/auth"
	"revidit/review"
	"revidit/web/pages"
)

// registerSecond adds the pages that ask for more than a password, before anybody is logged in.
func (s *Server) registerSecond(r *gin.Engine) {
	r.GET("/login/second", s.secondPage)
	r.POST("/login/second", s.second)
	r.POST("/login/second/passkey", s.beginPasskeySecond)
	r.POST("/login/second/passkey/end", s.endPasskeySecond)
	r.POST("/login/passkey", s.beginPasskeyLogin)
	r.POST("/login/passkey/end", s.endPasskeyLogin)
}

// registerFactors adds what somebody does with the own second factors.
func (s *Server) registerFactors(p *gin.RouterGroup) {
	p.POST("/account/codes", s.beginCodes)
	p.GET("/account/codes", s.codesPage)
	p.POST("/account/codes/confirm", s.confirmCodes)
	p.POST("/account/passkeys", s.beginPasskey)
	p.POST("/account/passkeys/end", s.endPasskey)
	p.POST("/account/recovery", s.renewRecovery)
	p.POST("/account/factors/remove", s.removeFactor)
}

// stepCookie holds the secret of a login, or a registering of a passkey, that is half done; it is Strict, since nobody comes from
// elsewhere in the middle.
const stepCookie = "revidit-step"

func (s *Server) stepCookieName(c *gin.Context) string {
	if s.secured(c) {
		return "__Host-" + stepCookie
	}
	return stepCookie
}

func (s *Server) setStep(c *gin.Context, secret string, lasts time.Duration, from http.SameSite) {
	http.SetCookie(c.Writer, &http.Cookie{Name: s.stepCookieName(c), Value: secret, Path: "/", MaxAge: int(lasts / time.Second), HttpOnly: true,
		Secure: s.secured(c), SameSite: from})
}

func (s *Server) keepStep(c *gin.Context, secret string) {
	s.setStep(c, secret, 10*time.Minute, http.SameSiteStrictMode)
}
func (s *Server) forgetStep(c *gin.Context) {
	s.setStep(c, "", -time.Second, http.SameSiteStrictMode)
}

func (s *Server) stepOf(c *gin.Context) string {
	secret, _ := c.Cookie(s.stepCookieName(c))
	return secret
}

// secondPage asks for the second factor of who has given the right password.
func (s *Server) secondPage(c *gin.Context) {
	s.showSecond(c, http.StatusOK, pages.NewForm(nil), localPath(c.Query("next")))
}

func (s *Server) showSecond(c *gin.Context, status int, form pages.Form, next string) {
	factors, err := s.Accounts.AskedSecond(c.Request.Context(), s.stepOf(c))
	if review.KindOf(err) == review.KindUnknownActor {
		seeOther(c, loginPath(next))
		return
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.SecondData{Form: form, Next: next, Codes: factors.Codes, Recovery: factors.Recovery > 0}
	if len(factors.Passkeys) > 0 {
		d.PasskeyOrigin = s.Accounts.PasskeyOrigin()
	}
	s.page(c, status, pages.Second(s.site(c), d))
}

// second ends a login with a code.
func (s *Server) second(c *gin.Context) {
	ctx := c.Request.Context()
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	entry, err := s.Accounts.EnterCode(ctx, s.stepOf(c), sent.get("code"), clientOf(c))
	next := localPath(sent.get("next"))
	if err == nil {
		s.entered(c, entry, next)
		return
	}
	if review.KindOf(err) == review.KindUnknownActor {
		s.showLogin(c, err, "", next)
		return
	}
	if p, known := problemOf(err); !known || p.Status != http.StatusBadRequest && p.Status != http.StatusTooManyRequests {
		s.fail(c, err)
		return
	}
	p := s.problem(c, err)
	form := pages.NewForm(nil).Failed(ctx, err, nil)
	form.Message = p.Detail
	s.showSecond(c, p.Status, form, next)
}

// secondPath is where the second factor is asked for, which leads on.
func secondPath(next string) string {
	return "/login/second" + strings.TrimPrefix(loginPath(next), "/login")
}

// entered goes on with a login: to where somebody wanted to go, or to the second factor.
func (s *Server) entered(c *gin.Context, entry auth.Entry, next string) {
	if entry.Token == "" {
		s.keepStep(c, entry.Step)
		seeOther(c, secondPath(next))
		return
	}
	s.setSession(c, entry.Token)
	if s.stepOf(c) != "" {
		s.forgetStep(c)
	}
	seeOther(c, next)
}

// asked answers the script of a form what to ask the browser for.
func (s *Server) asked(c *gin.Context, options any, err error) {
	if err == nil {
		c.JSON(http.StatusOK, options)
		return
	}
	p := s.problem(c, err)
	said := p.Detail
	for _, field := range p.Errors {
		said = field.Message
	}
	c.JSON(p.Status, gin.H{"words": said})
}

func (s *Server) beginPasskeyLogin(c *gin.Context) {
	options, secret, err := s.Accounts.BeginPasskeyLogin(c.Request.Context(), c.ClientIP())
	if err == nil {
		s.keepStep(c, secret)
	}
	s.asked(c, options, err)
}

func (s *Server) endPasskeyLogin(c *gin.Context) {
	s.endWithPasskey(c, func(answer []byte) (auth.Entry, error) {
		return s.Accounts.EndPasskeyLogin(c.Request.Context(), s.stepOf(c), answer, clientOf(c))
	})
}

func (s *Server) beginPasskeySecond(c *gin.Context) {
	options, err := s.Accounts.BeginPasskeySecond(c.Request.Context(), s.stepOf(c))
	s.asked(c, options, err)
}

func (s *Server) endPasskeySecond(c *gin.Context) {
	s.endWithPasskey(c, func(answer []byte) (auth.Entry, error) {
		return s.Accounts.EndPasskeySecond(c.Request.Context(), s.stepOf(c), answer, clientOf(c))
	})
}

func (s *Server) endWithPasskey(c *gin.Context, end func(answer []byte) (auth.Entry, error)) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	next := localPath(sent.get("next"))
	entry, err := end([]byte(sent.get("answer")))
	if err == nil {
		s.entered(c, entry, next)
		return
	}
	if kind := review.KindOf(err); kind != review.KindUnknownActor && kind != review.KindInvalid {
		s.fail(c, err)
		return
	}
	s.showLogin(c, err, "", next)
}

// needsSecond says whether who acts has to set up a second factor before anything else.
func (s *Server) needsSecond(c *gin.Context) bool {
	return s.SecondFactor == SecondRequired && actorOf(c).Role == review.RoleCurator && !c.GetBool(keySecond)
}

// Second factors of curators: they are asked to set one up, or can do nothing else before.
const (
	SecondAsked    = "asked"
	SecondRequired = "required"
)

func (s *Server) beginCodes(c *gin.Context) {
	sent, err := s.textForm(c)
	if err == nil {
		_, err = s.Accounts.BeginCodes(c.Request.Context(), s.tokenOf(c), sent.get("present"), c.ClientIP())
	}
	if err != nil {
		s.accountFailed(c, sent, "codes", err)
		return
	}
	seeOther(c, "/account/codes")
}

// codesPage shows the secret of one-time codes until one was given.
func (s *Server) codesPage(c *gin.Context) { s.showCodes(c, http.StatusOK, pages.NewForm(nil)) }

func (s *Server) showCodes(c *gin.Context, status int, form pages.Form) {
	secret, err := s.Accounts.PendingCodes(c.Request.Context(), s.tokenOf(c))
	if review.KindOf(err) == review.KindNotFound {
		seeOther(c, "/account")
		return
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	// The picture stands in its address (data:), as the content policy lets pages show: nothing of it is kept anywhere.
	s.page(c, status, pages.Codes(s.site(c), pages.CodesData{Form: form, Key: secret.Key, Picture: "data:image/png;base64," + base64.StdEncoding.EncodeToString(secret.Picture)}))
}

func (s *Server) confirmCodes(c *gin.Context) {
	ctx := c.Request.Context()
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	recovery, err := s.Accounts.ConfirmCodes(ctx, s.tokenOf(c), sent.get("code"))
	if err == nil {
		s.security(securityInfo, "second factor added", c.GetString(keyLogin), c.ClientIP(), requestID(c))
		s.showRecovery(c, recovery)
		return
	}
	if review.KindOf(err) != review.KindInvalid {
		s.fail(c, err)
		return
	}
	s.showCodes(c, pageStatus(err), pages.NewForm(nil).Failed(ctx, err, nil))
}

// showRecovery shows recovery codes this once, where there are new ones.
func (s *Server) showRecovery(c *gin.Context, codes []string) {
	if len(codes) == 0 {
		seeOther(c, "/account?done=factor")
		return
	}
	s.pageOfAll(c, http.StatusOK, func(site pages.Site) templ.Component { return pages.Recovery(site, codes) })
}

func (s *Server) beginPasskey(c *gin.Context) {
	sent, err := s.textForm(c)
	if err != nil {
		s.asked(c, nil, err)
		return
	}
	options, secret, err := s.Accounts.BeginPasskey(c.Request.Context(), s.tokenOf(c), sent.get("present"), c.ClientIP())
	if err == nil {
		s.keepStep(c, secret)
	}
	s.asked(c, options, err)
}

func (s *Server) endPasskey(c *gin.Context) {
	ctx := c.Request.Context()
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	browser := pages.BrowserWords(ctx, browserOf(c.GetHeader("User-Agent")))
	name := sent.get("name")
	if strings.TrimSpace(name) == "" {
		name = browser
	}
	recovery, err := s.Accounts.EndPasskey(ctx, s.tokenOf(c), s.stepOf(c), name, []byte(sent.get("answer")))
	s.forgetStep(c)
	if err != nil {
		s.accountFailed(c, sent, "passkey", err)
		return
	}
	s.security(securityInfo, "second factor added", c.GetString(keyLogin), c.ClientIP(), requestID(c))
	s.showRecovery(c, recovery)
}

func (s *Server) renewRecovery(c *gin.Context) {
	sent, err := s.textForm(c)
	var codes []string
	if err == nil {
		codes, err = s.Accounts.RenewRecovery(c.Request.Context(), s.tokenOf(c), sent.get("present"), c.ClientIP())
	}
	if err != nil {
		s.accountFailed(c, sent, "recovery", err)
		return
	}
	s.security(securityInfo, "recovery codes renewed", c.GetString(keyLogin), c.ClientIP(), requestID(c))
	s.showRecovery(c, codes)
}

func (s *Server) removeFactor(c *gin.Context) {
	sent, err := s.textForm(c)
	if err == nil {
		kind, id, _ := strings.Cut(sent.get("factor"), ":")
		if kind == string(review.FactorAll) { // that is a curator's
			err = review.Invalidf("factor", "must be one that you have")
		} else {
			err = s.Accounts.RemoveFactor(c.Request.Context(), s.tokenOf(c), sent.get("present"), c.ClientIP(), review.FactorKind(kind), id)
		}
	}
	if err != nil {
		s.accountFailed(c, sent, "remove", err)
		return
	}
	s.security(securityInfo, "second factor removed", c.GetString(keyLogin), c.ClientIP(), requestID(c))
	seeOther(c, "/account?done=removed")
}

// accountFailed shows the page of one's own login with the form that something is wrong in.
func (s *Server) accountFailed(c *gin.Context, sent *sentForm, part string, err error) {
	if sent == nil || !again(err) {
		s.fail(c, err)
		return
	}
	form := withoutPasswords(sent)
	form.Prefix = part + "-"
	s.showAccount(c, pageStatus(err), part, form.Failed(c.Request.Context(), err, nil))
}

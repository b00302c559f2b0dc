package web

import (
	"context"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/auth"
	"revidit/review"
	"revidit/web/pages"
)

func (s *Server) registerMachinePages(p *gin.RouterGroup) {
	p.GET("/permissions", s.permissionsPage)
	p.GET("/machines", s.machinesPage)
	p.POST("/machines", s.giveToken)
	p.POST("/machines/tokens/:id/revoke", s.revokeToken)
	p.POST("/people/:id/families", s.nameReviewer)
}

// permissionsPage shows the permission table.
func (s *Server) permissionsPage(c *gin.Context) {
	s.pageOfAll(c, http.StatusOK, func(site pages.Site) templ.Component { return pages.Permissions(site, review.Permissions()) })
}

func (s *Server) machinesPage(c *gin.Context) { s.showMachines(c, http.StatusOK, pages.MachinesData{}) }

func (s *Server) showMachines(c *gin.Context, status int, d pages.MachinesData) {
	ctx := c.Request.Context()
	tokens, err := s.Accounts.MachineTokens(ctx, actorOf(c))
	if err != nil {
		s.fail(c, err)
		return
	}
	d.Tokens = tokens
	var ids []string
	for _, t := range tokens {
		ids = append(ids, t.CreatedBy)
	}
	if d.Names, err = s.Service.Names(ctx, ids); err != nil {
		s.fail(c, err)
		return
	}
	s.pageOfAll(c, status, func(site pages.Site) templ.Component { return pages.Machines(site, d) })
}

// giveToken shows the secret on the answer itself: it stands nowhere that another page could read it from.
func (s *Server) giveToken(c *gin.Context) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	form := auth.MachineForm{Machine: sent.get("machine"), Name: sent.text("name"), Purpose: sent.text("purpose")}
	for _, scope := range sent.values["scopes"] {
		form.Scopes = append(form.Scopes, review.Scope(scope))
	}
	form.Days, _ = strconv.Atoi(strings.TrimSpace(sent.get("days"))) // 0, which is refused, where it is no number
	secret, token, err := s.Accounts.GiveMachineToken(c.Request.Context(), actorOf(c), form)
	switch {
	case err == nil:
		s.showMachines(c, http.StatusOK, pages.MachinesData{Secret: secret, Given: token})
	case again(err):
		s.showMachines(c, pageStatus(err), pages.MachinesData{Form: pages.NewForm(sent.values).Failed(c.Request.Context(), err, nil)})
	default:
		s.fail(c, err)
	}
}

func (s *Server) revokeToken(c *gin.Context) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	err = s.Accounts.RevokeMachineToken(c.Request.Context(), actorOf(c), c.Param("id"), sent.text("reason"))
	if err == nil {
		seeOther(c, "/machines")
		return
	}
	if !again(err) {
		s.fail(c, err)
		return
	}
	d := pages.MachinesData{Revoke: c.Param("id"), RevokeForm: pages.NewForm(sent.values).Failed(c.Request.Context(), err, nil)}
	s.showMachines(c, pageStatus(err), d)
}

// setFamilies names a reviewer for families that there are.
func (s *Server) setFamilies(ctx context.Context, actor review.Actor, person string, f FamiliesForm) error {
	if err := s.Service.CheckFamilies(ctx, actor, f.Families); err != nil {
		return err
	}
	return s.Accounts.SetFamilies(ctx, actor, person, f.Families, f.Reason)
}

func (s *Server) nameReviewer(c *gin.Context) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	form := FamiliesForm{Families: strings.FieldsFunc(sent.text("families"), func(r rune) bool { return r == ',' || r == ' ' || r == '\n' || r == '\r' }), Reason: sent.text("reason")}
	err = s.setFamilies(c.Request.Context(), actorOf(c), c.Param("id"), form)
	switch {
	case err == nil:
		seeOther(c, "/people/"+url.PathEscape(c.Param("id")))
	case again(err):
		s.showPerson(c, pageStatus(err), pages.NewForm(sent.values).Failed(c.Request.Context(), err, nil))
	default:
		s.fail(c, err)
	}
}

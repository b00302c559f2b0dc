package web

import (
	"context"
	"maps"
	"net/http"
	"net/url"
	"slices"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/auth"
	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
	"revidit/web/words"
)

// registerDeskPages adds what a curator does with the accounts of others.
func (s *Server) registerDeskPages(p *gin.RouterGroup) {
	p.GET("/people/:id/account", s.deskPage)
	p.POST("/people/:id/account/suspend", s.deskAct(func(ctx context.Context, d *deskAct) error {
		return s.Accounts.Suspend(ctx, d.by, d.person, d.sent.get("reason"))
	}))
	p.POST("/people/:id/account/readmit", s.deskAct(func(ctx context.Context, d *deskAct) error {
		return s.Accounts.Readmit(ctx, d.by, d.person, d.sent.get("reason"))
	}))
	p.POST("/people/:id/account/role", s.deskAct(func(ctx context.Context, d *deskAct) error {
		return s.Accounts.ChangeRole(ctx, d.by, d.person, review.Role(d.sent.get("role")), d.sent.get("reason"))
	}))
	p.POST("/people/:id/account/logins", s.deskAct(func(ctx context.Context, d *deskAct) error {
		return s.Accounts.EndSessionsOf(ctx, d.by, d.person, d.sent.get("reason"))
	}))
	p.POST("/people/:id/account/holds", s.deskAct(func(ctx context.Context, d *deskAct) error { return s.Service.EndHoldsOf(ctx, d.by, d.person) }))
	p.POST("/people/:id/account/pass", s.deskAct(func(ctx context.Context, d *deskAct) error {
		return s.passHolds(ctx, d.by, d.person, PassForm{To: d.sent.get("to"), Submissions: d.sent.values["submissions"], Reason: d.sent.get("reason")})
	}))
	p.POST("/people/:id/account/factors", s.deskAct(func(ctx context.Context, d *deskAct) error {
		return s.Accounts.RemoveFactorsOf(ctx, d.by, d.person, d.sent.get("reason"))
	}))
	p.POST("/people/:id/account/museum", s.deskAct(func(ctx context.Context, d *deskAct) error {
		return s.Accounts.TakeProviderOff(ctx, d.by, d.person, d.sent.get("reason"))
	}))
	p.POST("/people/:id/account/link", s.resetLink)
	p.POST("/people/:id/account/erase", s.erasePerson)
}

// PassForm says to whom work that somebody holds is passed on.
type PassForm struct {
	To          string   `json:"to" minLength:"1" maxLength:"60" doc:"Id of who is to have it, who may review it"`
	Submissions []string `json:"submissions" minItems:"1" maxItems:"100" doc:"Ids of those that are passed on"`
	Reason      string   `json:"reason" minLength:"1" maxLength:"2000" doc:"Kept in the history for ever"`
}

// passHolds passes work on to somebody who can log in.
func (s *Server) passHolds(ctx context.Context, by review.Actor, person string, f PassForm) error {
	to, err := s.Accounts.AccountOf(ctx, by, f.To)
	if review.KindOf(err) == review.KindNotFound || err == nil && to.Disabled {
		return review.Invalidf("to", "must be somebody who can log in")
	}
	if err != nil {
		return err
	}
	return s.Service.PassHolds(ctx, by, person, to.Actor(), f.Submissions, f.Reason)
}

// deskAct is something that a curator asks for with a form of the desk.
type deskAct struct {
	by     review.Actor
	person string
	sent   *sentForm
}

func (s *Server) deskAct(do func(context.Context, *deskAct) error) gin.HandlerFunc {
	return func(c *gin.Context) {
		ctx := c.Request.Context()
		sent, err := s.textForm(c)
		if err == nil {
			err = do(ctx, &deskAct{by: actorOf(c), person: c.Param("id"), sent: sent})
		}
		s.afterDesk(c, sent, err)
	}
}

// afterDesk leads back to the desk, with the form where something is wrong in it.
func (s *Server) afterDesk(c *gin.Context, sent *sentForm, err error) {
	part := c.FullPath()[len("/people/:id/account/"):]
	if err == nil {
		s.security(securityInfo, "account: "+part, c.GetString(keyLogin), c.ClientIP(), requestID(c))
		seeOther(c, personPath(c)+"/account?done="+part)
		return
	}
	if sent == nil || !again(err) {
		s.fail(c, err)
		return
	}
	form := pages.NewForm(sent.values)
	form.Prefix = part + "-"
	s.showDesk(c, pageStatus(err), part, form.Failed(c.Request.Context(), err, nil))
}

// deskPage is the account of a person, to who keeps accounts.
func (s *Server) deskPage(c *gin.Context) { s.showDesk(c, http.StatusOK, "", pages.NewForm(nil)) }

func (s *Server) showDesk(c *gin.Context, status int, failed string, form pages.Form) {
	ctx, by, person := c.Request.Context(), actorOf(c), c.Param("id")
	account, err := s.Accounts.AccountOf(ctx, by, person)
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.DeskData{Person: review.Person{ID: person, Name: account.Name, Role: account.Role}, Login: account.Login, Suspended: account.Disabled,
		SecondFactor: account.SecondFactor, CreatedAt: account.CreatedAt, SeenAt: account.SeenAt, Done: c.Query("done"), Failed: failed, Form: form, Own: by.Person == person}
	sessions, err := s.Accounts.SessionsOf(ctx, by, person)
	if err == nil {
		d.Sessions = sessions
		d.Holdings, err = s.Service.HoldingsOf(ctx, by, person)
	}
	if err == nil {
		d.Families, err = s.namedFor(ctx, account)
	}
	if err == nil {
		d.Museums, err = s.Accounts.ProviderLoginsOf(ctx, by, person)
	}
	if err == nil {
		d.UsedTwice, err = s.Accounts.RefreshUsedTwice(ctx, by, person)
	}
	if err == nil && len(d.Holdings) > 0 {
		d.Reviewers, err = s.Service.People(ctx, service.PeopleFilter{Roles: []review.Role{review.RoleReviewer, review.RoleCurator}})
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	s.pageOfAll(c, status, func(site pages.Site) templ.Component { return pages.Desk(site, d) })
}

// keptAccounts is what who keeps accounts sees of them in a list; nil for everybody else.
func (s *Server) keptAccounts(ctx context.Context, by review.Actor, people []review.Person) (map[string]pages.KeptAccount, error) {
	if !review.May(by, review.ActKeepAccounts, "") {
		return nil, nil
	}
	ids := make([]string, len(people))
	for i, p := range people {
		ids[i] = p.ID
	}
	accounts, err := s.Accounts.AccountsOf(ctx, by, ids)
	if err != nil {
		return nil, err
	}
	policy, err := s.Service.Policy(ctx)
	if err != nil {
		return nil, err
	}
	kept := map[string]pages.KeptAccount{}
	for _, a := range accounts {
		kept[a.Person] = pages.KeptAccount{Suspended: a.Disabled, SeenAt: a.SeenAt, Families: familiesOf(policy, a)}
	}
	return kept, nil
}

// familiesOf are the families that a reviewer is named for, or else those for which a policy names them.
func familiesOf(policy review.Policy, a auth.Account) []string {
	if named := a.Families.Names(); len(named) > 0 {
		return named
	}
	families := slices.Sorted(maps.Keys(policy.Experts))
	return slices.DeleteFunc(families, func(f string) bool { return !policy.Expert(f, a.Person) })
}

func (s *Server) namedFor(ctx context.Context, a auth.Account) ([]string, error) {
	policy, err := s.Service.Policy(ctx)
	if err != nil {
		return nil, err
	}
	return familiesOf(policy, a), nil
}

// resetLink shows a link by which a person sets another password, once.
func (s *Server) resetLink(c *gin.Context) {
	ctx := c.Request.Context()
	account, err := s.Accounts.AccountOf(ctx, actorOf(c), c.Param("id"))
	if err != nil {
		s.fail(c, err)
		return
	}
	token, until, err := s.Accounts.HandOverReset(ctx, actorOf(c), account.Person)
	if err != nil {
		s.fail(c, err)
		return
	}
	s.security(securityInfo, "account: link", c.GetString(keyLogin), c.ClientIP(), requestID(c))
	s.showLink(c, pages.HandOverData{Link: s.baseURL(c) + resetPath + token, Until: until, Who: account.Name, Back: personPath(c) + "/account",
		Words: words.T(ctx, "account.link-resets")})
}

func (s *Server) erasePerson(c *gin.Context) {
	if by, person := actorOf(c), c.Param("id"); !review.May(by, review.ActChangeAccount, person) {
		s.fail(c, review.Forbidden(by, review.ActChangeAccount, person))
		return
	}
	sent, err := s.textForm(c)
	if err == nil && sent.get("sure") == "" {
		err = review.Invalidf("sure", "must be ticked: it cannot be undone")
	}
	if err == nil {
		err = s.Accounts.ErasePerson(c.Request.Context(), actorOf(c), c.Param("id"), sent.get("login"), sent.get("reason"))
	}
	if err == nil {
		s.security(securityInfo, "account: erase", c.GetString(keyLogin), c.ClientIP(), requestID(c))
		seeOther(c, personPath(c))
		return
	}
	s.afterDesk(c, sent, err)
}

// personPath is the page of the person whom an address names.
func personPath(c *gin.Context) string { return "/people/" + url.PathEscape(c.Param("id")) }

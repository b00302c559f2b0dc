package web

import (
	"context"
	"net/http"
	"strings"
	"time"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/audit"
	"revidit/review/judgement"
	"revidit/review/service"
	"revidit/web/pages"
)

func (s *Server) registerAuditPages(p *gin.RouterGroup) {
	p.GET("/search", s.searchPage)
	p.POST("/searches", s.saveSearch)
	p.POST("/searches/:id/remove", s.removeSearch)
	p.GET("/people", s.peoplePage)
	p.GET("/people/:id", s.personPage)
	p.GET("/figures/changes", s.changesPageOf)
}

// foundAtOnce is how many of a kind the page of one field shows.
const foundAtOnce = 10

// listFilter is what the list of submissions was asked for.
func (s *Server) listFilter(c *gin.Context) (f service.SubmissionFilter, typedPerson string, err error) {
	if err = knownFile(c); err != nil {
		return f, "", err
	}
	family, err := s.todaysName(c.Request.Context(), c.Query("group"), strings.TrimSpace(c.Query("family")))
	if err != nil {
		return f, "", err
	}
	f = service.SubmissionFilter{Status: review.Status(c.Query("status")), Group: c.Query("group"), Family: family,
		Text: strings.TrimSpace(c.Query("q")), Doubtful: c.Query("doubtful") != "",
		Parted: c.Query("parted") != "", Slips: c.Query("slips") != "",
		Against: judgement.ContradictionKind(c.Query("against")), Release: strings.TrimSpace(c.Query("release"))}
	period, err := review.ParsePeriod(c.Query("from"), c.Query("to"))
	if err != nil {
		return f, "", err
	}
	f.From, f.Until = period.From, period.Until
	if c.Query("mine") != "" {
		f.Owner = actorOf(c).Person
	}
	typedPerson = strings.TrimSpace(c.Query("person"))
	return f, typedPerson, s.byPerson(c.Request.Context(), &f, typedPerson, c.Query("part"))
}

// byPerson narrows a filter to what a person did.
func (s *Server) byPerson(ctx context.Context, f *service.SubmissionFilter, who, part string) error {
	if who == "" {
		return nil
	}
	id, err := s.personNamed(ctx, who)
	if err != nil {
		return err
	}
	switch part {
	case "", "determined":
		f.Determiner = id
	case "submitted":
		f.Owner = id
	default:
		f.Judge, f.Said = id, service.Said(part)
	}
	return nil
}

// personNamed is the id of whom somebody has typed: an id, or a name as far as it tells one from all others.
func (s *Server) personNamed(ctx context.Context, who string) (string, error) {
	names, err := s.Service.KnownPeople(ctx, []string{who})
	if err != nil {
		return "", err
	}
	if names[who] {
		return who, nil
	}
	found, err := s.Service.People(ctx, service.PeopleFilter{Name: who})
	if err != nil {
		return "", err
	}
	for _, p := range found {
		if len(found) == 1 || strings.EqualFold(p.Name, who) {
			return p.ID, nil
		}
	}
	if len(found) == 0 {
		return "", review.Invalidf("person", "is nobody with an account; type a name from the beginning of one of its words")
	}
	return "", review.Invalidf("person", "may be any of several people; type more of the name")
}

// searchPage looks everywhere for one text, and shows the searches that were saved.
func (s *Server) searchPage(c *gin.Context) {
	ctx, actor := c.Request.Context(), actorOf(c)
	d := pages.SearchData{Text: strings.TrimSpace(c.Query("q"))}
	saved, err := s.Service.SavedSearches(ctx, actor)
	if err == nil {
		err = knownFile(c)
	}
	if err == nil && fileAsked(c) {
		s.searchesFile(c, saved)
		return
	}
	if err == nil && d.Text != "" {
		d.People, err = s.Service.People(ctx, service.PeopleFilter{Name: d.Text})
		d.People = d.People[:min(foundAtOnce, len(d.People))]
	}
	if err == nil && d.Text != "" {
		var next string
		d.Lines, next, err = s.Service.Find(ctx, actor, service.SubmissionFilter{Text: d.Text}, service.Page{Size: foundAtOnce})
		d.More = next != ""
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	d.Saved = saved
	s.pageOfAll(c, http.StatusOK, func(site pages.Site) templ.Component { return pages.Search(site, d) })
}

func (s *Server) saveSearch(c *gin.Context) {
	sent, err := s.textForm(c)
	if err == nil {
		_, err = s.Service.SaveSearch(c.Request.Context(), actorOf(c), sent.text("name"), sent.text("query"))
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	seeOther(c, "/search")
}

func (s *Server) removeSearch(c *gin.Context) {
	if err := s.Service.RemoveSearch(c.Request.Context(), actorOf(c), c.Param("id")); err != nil {
		s.fail(c, err)
		return
	}
	seeOther(c, "/search")
}

// peoplePage lists who has an account, by name.
func (s *Server) peoplePage(c *gin.Context) {
	d := pages.PeopleData{Name: strings.TrimSpace(c.Query("name"))}
	if err := knownFile(c); err != nil {
		s.fail(c, err)
		return
	}
	if fileAsked(c) {
		s.peopleFile(c, d.Name)
		return
	}
	people, next, err := s.Service.ListPeople(c.Request.Context(), actorOf(c), d.Name, service.Page{Size: listSize, Cursor: c.Query("cursor")})
	if err != nil {
		s.fail(c, err)
		return
	}
	d.People = people
	if d.Kept, err = s.keptAccounts(c.Request.Context(), actorOf(c), people); err != nil {
		s.fail(c, err)
		return
	}
	d.First, d.Next = pageLinks(c, next)
	d.CSV, d.JSON = fileLinks(c)
	s.pageOfAll(c, http.StatusOK, func(site pages.Site) templ.Component { return pages.People(site, d) })
}

// personPage is what a person has determined and said, and how reliable they are as far as the one who looks may see that.
func (s *Server) personPage(c *gin.Context) { s.showPerson(c, http.StatusOK, pages.NewForm(nil)) }

// showPerson shows a person, with the form of the families that they are named for as it came back, or as they stand.
func (s *Server) showPerson(c *gin.Context, status int, form pages.Form) {
	ctx, actor, id := c.Request.Context(), actorOf(c), c.Param("id")
	site, err := s.siteOf(c, c.Query("group"))
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.PersonData{Form: form}
	if d.Person, err = s.Service.Person(ctx, actor, id); err != nil {
		s.fail(c, err)
		return
	}
	r, names, shown, err := s.Service.PersonReliability(ctx, actor, site.Book.Group.ID, id)
	if err != nil {
		s.fail(c, err)
		return
	}
	if d.Shown = shown; shown {
		d.Figures = audit.FiguresOf(r, names, site.Book.Tables)
	}
	latest := service.SubmissionFilter{Determiner: id}
	if d.Determined, _, err = s.Service.Find(ctx, actor, latest, service.Page{Size: foundAtOnce}); err != nil {
		s.fail(c, err)
		return
	}
	if status == http.StatusOK {
		d.Form.Set("families", strings.Join(d.Person.Families, "\n"))
	}
	s.page(c, status, pages.Person(site, d))
}

// changesPageOf is how the collection differs between two days: of the last thirty where none are named.
func (s *Server) changesPageOf(c *gin.Context) {
	ctx, actor := c.Request.Context(), actorOf(c)
	d := pages.CameData{Which: service.Came(c.DefaultQuery("which", string(service.CameSettled)))}
	err := knownFile(c)
	if err == nil {
		d.Period, err = review.ParsePeriod(c.Query("from"), c.Query("to"))
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	if d.Period.All() && c.Query("from") == "" && c.Query("to") == "" {
		today := time.Now().UTC().Truncate(24 * time.Hour)
		d.Period = review.Period{From: today.AddDate(0, 0, -30), Until: today.AddDate(0, 0, 1)}
	}
	read := func(cursor string) ([]service.ChangeLine, string, error) {
		return s.Service.Changes(ctx, actor, d.Which, d.Period, service.Page{Size: listSize, Cursor: cursor})
	}
	if fileAsked(c) {
		s.changesFile(c, d.Which, read)
		return
	}
	lines, next, err := read(c.Query("cursor"))
	if err == nil {
		d.Counts, err = s.Service.CountChanges(ctx, actor, d.Period)
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	d.Lines = lines
	d.First, d.Next = pageLinks(c, next)
	d.CSV, d.JSON = fileLinks(c)
	s.pageOfAll(c, http.StatusOK, func(site pages.Site) templ.Component { return pages.Came(site, d) })
}

// fileLinks are the addresses of a list as a file, with the same filters.
func fileLinks(c *gin.Context) (csv, json string) {
	query := c.Request.URL.Query()
	query.Del("cursor")
	query.Set("as", "csv")
	csv = c.Request.URL.Path + "?" + query.Encode()
	query.Set("as", "json")
	return csv, c.Request.URL.Path + "?" + query.Encode()
}

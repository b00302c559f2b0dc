package web

import (
	"context"
	"net/http"
	"net/url"
	"strings"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

func (s *Server) registerSeriesPages(p *gin.RouterGroup) {
	p.GET("/series", s.seriesListPage)
	p.POST("/series", s.beginSeries)
	p.GET("/series/:id", s.seriesPage)
	for act, do := range seriesActs {
		p.POST("/series/:id/"+act, func(c *gin.Context) { s.changeSeries(c, act, do) })
	}
}

func seriesPath(id string) string { return "/series/" + url.PathEscape(id) }

// seriesAct is what a form on the page of a series does.
type seriesAct func(ctx context.Context, s *service.Service, actor review.Actor, id string, sent *sentForm) error

var seriesActs = map[string]seriesAct{
	"mentor": func(ctx context.Context, s *service.Service, actor review.Actor, id string, sent *sentForm) error {
		_, err := s.MentorSeries(ctx, actor, id, sent.get("mentor"))
		return err
	},
	"give-back": func(ctx context.Context, s *service.Service, actor review.Actor, id string, _ *sentForm) error {
		_, err := s.GiveBackSeries(ctx, actor, id)
		return err
	},
	"leave": func(ctx context.Context, s *service.Service, actor review.Actor, id string, _ *sentForm) error {
		_, err := s.LeaveSeries(ctx, actor, id)
		return err
	},
	"end": func(ctx context.Context, s *service.Service, actor review.Actor, id string, sent *sentForm) error {
		_, err := s.EndSeries(ctx, actor, id, messageForm(sent))
		return err
	},
}

// messageForm is a message as it was put together.
func messageForm(sent *sentForm) review.SeriesForm {
	form := review.SeriesForm{Group: sent.get("group"), Well: sent.values["well"], Practise: sent.values["practise"], Text: sent.text("text")}
	for _, value := range sent.values["mixed"] {
		character, states, _ := strings.Cut(value, pages.MixedCut)
		stated, seen, _ := strings.Cut(states, pages.MixedCut)
		form.Mixed = append(form.Mixed, review.MixedStates{Character: character, Stated: stated, Seen: seen})
	}
	return form
}

// beginSeries asks for a mentor.
func (s *Server) beginSeries(c *gin.Context) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	var made review.Series
	before, err := s.once(c, sent, func(ctx context.Context) (err error) {
		made, err = s.Service.BeginSeries(ctx, actorOf(c))
		return err
	})
	if err != nil {
		s.fail(c, err)
		return
	}
	seeOther(c, seriesPath(goesTo(before, made.ID)))
}

// seriesListPage lists the series that somebody has to do with.
func (s *Server) seriesListPage(c *gin.Context) {
	err := knownFile(c)
	var l service.SeriesLists
	if err == nil {
		l, err = s.Service.FindSeries(c.Request.Context(), actorOf(c))
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	if fileAsked(c) {
		s.seriesFile(c, l)
		return
	}
	s.pageOfAll(c, http.StatusOK, func(site pages.Site) templ.Component { return pages.AllSeries(site, l) })
}

func (s *Server) seriesPage(c *gin.Context) { s.showSeries(c, http.StatusOK, "", nil, nil) }

// showSeries shows a series as it is now, with a form that comes back, if any.
func (s *Server) showSeries(c *gin.Context, status int, act string, sent *sentForm, failure error) {
	ctx, actor := c.Request.Context(), actorOf(c)
	view, err := s.Service.Series(ctx, actor, c.Param("id"))
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.SeriesData{View: view, Act: act}
	if d.Lines, _, err = s.Service.Find(ctx, actor, service.SubmissionFilter{Series: view.ID}, service.Page{Size: review.SeriesLength}); err != nil {
		s.fail(c, err)
		return
	}
	if actor.Person == view.Mentor && view.Status == review.SeriesRunning {
		seen, err := s.Service.SeriesSeen(ctx, actor, view.ID)
		if err != nil {
			s.fail(c, err)
			return
		}
		d.Seen = &seen
	}
	if actor.Role == review.RoleCurator {
		d.Reviewers, err = s.Service.People(ctx, service.PeopleFilter{Roles: []review.Role{review.RoleReviewer, review.RoleCurator}})
		if err != nil {
			s.fail(c, err)
			return
		}
	}
	site, err := s.siteOf(c, d.Group())
	if err != nil {
		s.fail(c, err)
		return
	}
	d.Form = pages.MessageForm(d.Seen)
	if sent != nil {
		d.Form = pages.NewForm(sent.values).Failed(c.Request.Context(), failure, func(path string) string { name, _, _ := strings.Cut(path, "["); return name })
	}
	s.page(c, status, pages.Series(site, d))
}

func (s *Server) changeSeries(c *gin.Context, act string, do seriesAct) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	_, err = s.once(c, sent, func(ctx context.Context) error { return do(ctx, s.Service, actorOf(c), c.Param("id"), sent) })
	switch {
	case err == nil:
		seeOther(c, seriesPath(c.Param("id")))
	case again(err):
		s.showSeries(c, pageStatus(err), act, sent, err)
	default:
		s.fail(c, err)
	}
}

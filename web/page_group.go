package web

import (
	"context"
	"net/http"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

// site is what a page about no group knows, such as the login and errors.
func (s *Server) site(c *gin.Context) pages.Site {
	site := pages.Site{Actor: actorOf(c), Path: c.Request.URL.Path}
	if c.Request.Method == http.MethodGet {
		site.Here = c.Request.URL.RequestURI()
	}
	return site
}

// siteOfAll is what a page about several groups knows.
func (s *Server) siteOfAll(c *gin.Context) (pages.Site, error) {
	site := s.site(c)
	var err error
	if site.LoggedIn() {
		if site.Unread, err = s.Service.UnreadNews(c.Request.Context(), site.Actor); err != nil {
			return site, err
		}
	}
	judges, err := s.Service.Groups(c.Request.Context())
	for _, j := range judges {
		site.Books = append(site.Books, pages.BookIn(c.Request.Context(), j.Tables()))
	}
	return site, err
}

// siteOf is what a page about one group knows; an empty group is the first.
func (s *Server) siteOf(c *gin.Context, group string) (pages.Site, error) {
	site, err := s.siteOfAll(c)
	if err != nil {
		return site, err
	}
	for _, b := range site.Books {
		if group == "" || b.Group.ID == group {
			return site.About(b), nil
		}
	}
	return site, review.Errorf(review.KindNotFound, "There is no group %q of tables here.", group)
}

// pageOf renders a page about one group.
func (s *Server) pageOf(c *gin.Context, status int, group string, page func(pages.Site) templ.Component) {
	site, err := s.siteOf(c, group)
	if err != nil {
		s.fail(c, err)
		return
	}
	s.page(c, status, page(site))
}

// pageOfAll renders a page about several groups.
func (s *Server) pageOfAll(c *gin.Context, status int, page func(pages.Site) templ.Component) {
	site, err := s.siteOfAll(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	s.page(c, status, page(site))
}

// submissionOf is a submission as the actor sees it, with the site of its group.
func (s *Server) submissionOf(c *gin.Context) (service.SubmissionView, pages.Site, error) {
	view, err := s.Service.View(c.Request.Context(), actorOf(c), c.Param("id"))
	if err != nil {
		return view, pages.Site{}, err
	}
	site, err := s.siteOf(c, view.Submission.Group)
	return view, s.withFormer(c.Request.Context(), site, &view.Assessment, view.Today), err
}

// todaysName is the accepted name for an old one, in a group or in any where none is given; any other text stays as it
// is and finds nothing.
func (s *Server) todaysName(ctx context.Context, group, name string) (string, error) {
	judges, err := s.Service.Groups(ctx)
	if err != nil {
		return "", err
	}
	for _, j := range judges {
		if group != "" && j.Tables().Group.ID != group {
			continue
		}
		if family, _, ok := j.Tables().Resolve(name); ok {
			return family.Name, nil
		}
	}
	return name, nil
}

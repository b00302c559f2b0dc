package web

import (
	"net/http"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/web/pages"
)

// frontPage is the first page of whoever is logged in, and says to others what this is.
func (s *Server) frontPage(c *gin.Context) {
	if actorOf(c).Person != "" {
		s.homePage(c)
		return
	}
	judges, err := s.Service.Groups(c.Request.Context())
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.StartData{Invented: len(s.Invented) > 0}
	for _, j := range judges {
		if d.Example = pages.ExampleOf(c.Request.Context(), j); d.Example != nil {
			break
		}
	}
	s.pageOfAll(c, http.StatusOK, func(site pages.Site) templ.Component { return pages.Start(site, d) })
}

package web

import (
	"net/http"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/web/pages"
)

func (s *Server) specimenPage(c *gin.Context) {
	view, err := s.Service.Specimen(c.Request.Context(), actorOf(c), c.Param("id"))
	if err != nil {
		s.fail(c, err)
		return
	}
	s.pageOfAll(c, http.StatusOK, func(site pages.Site) templ.Component { return pages.Specimen(site, view) })
}

package web

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"revidit/web/pages"
)

// seeingPage tells somebody what they see well, and what others saw differently.
func (s *Server) seeingPage(c *gin.Context) {
	seeing, err := s.Service.Seeing(c.Request.Context(), actorOf(c), c.Query("group"))
	if err != nil {
		s.fail(c, err)
		return
	}
	site, err := s.siteOf(c, seeing.Group)
	if err != nil {
		s.fail(c, err)
		return
	}
	s.page(c, http.StatusOK, pages.Seeing(site, seeing))
}

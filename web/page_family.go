package web

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/web/pages"
)

func (s *Server) familiesPage(c *gin.Context) {
	s.page(c, http.StatusOK, pages.Families(s.site(c)))
}

// familyPage shows a family's diagnosis; an old name leads to the family that holds it today.
func (s *Server) familyPage(c *gin.Context) {
	name := c.Param("name")
	family, _, ok := s.Service.Judge().Tables().Resolve(name)
	if !ok {
		s.fail(c, review.Errorf(review.KindNotFound, "These tables have no family of that name, nor an old name of one."))
		return
	}
	if family.Name != name {
		seeOther(c, "/families/"+family.Name)
		return
	}
	s.page(c, http.StatusOK, pages.Family(s.site(c), family))
}

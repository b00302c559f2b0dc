package web

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/web/pages"
)

func (s *Server) queuePage(c *gin.Context) {
	filter := review.QueueFilter{Family: s.todaysName(c.Query("family")), Trip: strings.TrimSpace(c.Query("trip")),
		Drawer: strings.TrimSpace(c.Query("drawer"))}
	lines, next, err := s.Service.Queue(c.Request.Context(), actorOf(c), filter, review.Page{Size: listSize, Cursor: c.Query("cursor")})
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.QueueData{Filter: filter, Lines: lines}
	d.First, d.Next = pageLinks(c, next)
	s.page(c, http.StatusOK, pages.Queue(s.site(c), d))
}

package web

import (
	"context"
	"net/http"
	"slices"
	"strings"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/review/service"
	"revidit/web/pages"
)

func (s *Server) queuePage(c *gin.Context) {
	family, err := s.todaysName(c.Request.Context(), c.Query("group"), strings.TrimSpace(c.Query("family")))
	if err != nil {
		s.fail(c, err)
		return
	}
	filter := service.QueueFilter{Group: c.Query("group"), Family: family, Trip: strings.TrimSpace(c.Query("trip")),
		Drawer: strings.TrimSpace(c.Query("drawer"))}
	lines, next, err := s.Service.Queue(c.Request.Context(), actorOf(c), filter, service.Page{Size: listSize, Cursor: c.Query("cursor")})
	if err != nil {
		s.fail(c, err)
		return
	}
	names, err := s.holders(c.Request.Context(), lines)
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.QueueData{Filter: filter, Lines: lines, Names: names}
	d.First, d.Next = pageLinks(c, next)
	s.pageOfAll(c, http.StatusOK, func(site pages.Site) templ.Component { return pages.Queue(site, d) })
}

// holders are the names of those who hold a line of the queue.
func (s *Server) holders(ctx context.Context, lines []service.QueueLine) (map[string]string, error) {
	if !slices.ContainsFunc(lines, func(l service.QueueLine) bool { return l.HeldBy != "" }) {
		return nil, nil
	}
	people, err := s.Service.People(ctx)
	names := map[string]string{}
	for _, p := range people {
		names[p.ID] = p.Name
	}
	return names, err
}

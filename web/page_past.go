package web

import (
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
	"revidit/web/words"
)

func (s *Server) registerPastPages(r *gin.RouterGroup) {
	r.GET("/submissions/:id/as-of", s.asOfPage)
	r.GET("/submissions/:id/difference", s.differencePage)
}

// asOfPage shows a submission as it stood at a position, or at the end of a day.
func (s *Server) asOfPage(c *gin.Context) {
	when, err := whenAsked(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	then, err := s.Service.AsOf(c.Request.Context(), actorOf(c), c.Param("id"), when)
	if err != nil {
		s.fail(c, err)
		return
	}
	site, err := s.siteOf(c, then.View.Submission.Group)
	if err != nil {
		s.fail(c, err)
		return
	}
	s.page(c, http.StatusOK, pages.AsOf(s.withFormer(c.Request.Context(), site, &then.View.Assessment, then.Shown), then))
}

// whenAsked is a position, or the end of a day by the reader's clock.
func whenAsked(c *gin.Context) (service.When, error) {
	if day := c.Query("day"); day != "" {
		begin, err := time.ParseInLocation(time.DateOnly, day, words.Zone(c.Request.Context()))
		if err != nil {
			return service.When{}, review.Invalidf("day", "must be a day like 2026-05-14")
		}
		return service.When{Before: begin.AddDate(0, 0, 1)}, nil
	}
	position, err := positionAsked(c, "position")
	return service.When{Position: position}, err
}

func positionAsked(c *gin.Context, field string) (int64, error) {
	position, err := strconv.ParseInt(c.Query(field), 10, 64)
	if err != nil || position < 1 {
		return 0, review.Invalidf(field, "must be the position of an event, from 1")
	}
	return position, nil
}

// differencePage shows what changed of a submission between two moments.
func (s *Server) differencePage(c *gin.Context) {
	ctx := c.Request.Context()
	from, err := positionAsked(c, "from")
	if err != nil {
		s.fail(c, err)
		return
	}
	to, err := positionAsked(c, "to")
	if err != nil {
		s.fail(c, err)
		return
	}
	d, err := s.Service.Between(ctx, actorOf(c), c.Param("id"), service.When{Position: from}, service.When{Position: to})
	if err != nil {
		s.fail(c, err)
		return
	}
	site, err := s.siteOf(c, d.To.View.Submission.Group)
	if err != nil {
		s.fail(c, err)
		return
	}
	s.page(c, http.StatusOK, pages.Between(s.withFormer(ctx, site, &d.From.View.Assessment, &d.To.View.Assessment), d))
}

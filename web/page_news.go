package web

import (
	"net/http"
	"net/url"
	"time"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

// newsPage lists what somebody is told, the latest first.
func (s *Server) newsPage(c *gin.Context) {
	if err := knownFile(c); err != nil {
		s.fail(c, err)
		return
	}
	if fileAsked(c) {
		s.newsFile(c)
		return
	}
	list, err := s.Service.News(c.Request.Context(), actorOf(c), false, service.Page{Size: listSize, Cursor: c.Query("cursor")})
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.NewsData{List: list}
	d.First, d.Next = pageLinks(c, list.Next)
	s.pageOfAll(c, http.StatusOK, func(site pages.Site) templ.Component { return pages.News(site, d) })
}

// followNews leads to what news is about, and notes that it was read, with what was told of that before. It changes nothing else, and nothing that anybody else
// sees, so that a link in a mail may lead here.
func (s *Server) followNews(c *gin.Context) {
	news, err := s.Service.FollowNews(c.Request.Context(), actorOf(c), c.Param("id"))
	if err != nil {
		s.fail(c, err)
		return
	}
	seeOther(c, newsPlace(news))
}

// newsPlace is the page of what news is about.
func newsPlace(n review.News) string {
	switch {
	case n.Code == review.NewsLoginTakenOff:
		return "/account"
	case n.Proposal != "":
		return "/tables/" + url.PathEscape(n.Group) + "/changes/" + url.PathEscape(n.Proposal)
	case n.Submission != "":
		return submissionPath(n.Submission)
	}
	return "/specimens/" + url.PathEscape(n.Specimen)
}

// readNews notes that all is read that was on the page.
func (s *Server) readNews(c *gin.Context) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	until, err := time.Parse(time.RFC3339Nano, sent.get("until"))
	if err != nil {
		s.fail(c, review.Invalidf("until", "is not a time as the page writes it; open the news again"))
		return
	}
	if err := s.Service.ReadNewsUntil(c.Request.Context(), actorOf(c), until); err != nil {
		s.fail(c, err)
		return
	}
	seeOther(c, "/news")
}

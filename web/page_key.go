package web

import (
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/booklet"
	"revidit/web/pages"
)

// shortKey leads to the key of the first group.
func (s *Server) shortKey(c *gin.Context) {
	site, err := s.siteOf(c, "")
	if err != nil {
		s.fail(c, err)
		return
	}
	address := "/tables/" + url.PathEscape(site.Book.Group.ID) + "/key"
	if c.Request.URL.RawQuery != "" {
		address += "?" + c.Request.URL.RawQuery
	}
	seeOther(c, address)
}

// keyPage asks which key is to be made, and shows it.
func (s *Server) keyPage(c *gin.Context) {
	site, err := s.siteOf(c, c.Param("group"))
	if err != nil {
		s.fail(c, err)
		return
	}
	choice := keyChoice(c.Request.URL.Query(), site.Book.Group.ID)
	asked := c.Query("make") != ""
	d := pages.KeyData{Ticked: choice.Families, Prepare: choice.Preparing, Query: keyQuery(choice).Encode()}
	d.Form = pages.NewForm(map[string][]string{"region": {choice.Region}, "reader": {c.DefaultQuery("reader", "beginner")}, "submission": {strings.Join(choice.Submissions, "\n")}})
	if !asked {
		s.page(c, http.StatusOK, pages.Key(site, d))
		return
	}
	if d.Made, err = s.Service.Key(c.Request.Context(), actorOf(c), choice); err == nil {
		s.page(c, http.StatusOK, pages.Key(site, d))
		return
	}
	if !again(err) {
		s.fail(c, err)
		return
	}
	d.Made, d.Form = nil, d.Form.Failed(c.Request.Context(), err, nil)
	s.page(c, pageStatus(err), pages.Key(site, d))
}

// keyBooklet sends the key as PDF.
func (s *Server) keyBooklet(c *gin.Context) {
	site, err := s.siteOf(c, c.Param("group"))
	if err != nil {
		s.fail(c, err)
		return
	}
	sheet := booklet.Sheet(c.DefaultQuery("sheet", string(booklet.A4)))
	if sheet != booklet.A4 && sheet != booklet.A5 {
		s.fail(c, review.Invalidf("sheet", "must be a4 or a5"))
		return
	}
	made, err := s.Service.Key(c.Request.Context(), actorOf(c), keyChoice(c.Request.URL.Query(), site.Book.Group.ID))
	if err != nil {
		s.fail(c, err)
		return
	}
	file, err := booklet.Write(c.Request.Context(), site.Book.Tables, made, sheet)
	if err != nil {
		s.fail(c, err)
		return
	}
	c.Header("Content-Disposition", `inline; filename="key-`+made.Hash[:12]+`.pdf"`)
	c.Header("Cache-Control", "no-store")
	c.Data(http.StatusOK, "application/pdf", file)
}

// keyChoice is what the fields of a query choose.
func keyChoice(q url.Values, group string) service.KeyChoice {
	choice := service.KeyChoice{Group: group, Region: q.Get("region"), Families: q["family"], Expert: q.Get("reader") == "expert", Preparing: q.Get("preparing") != ""}
	for _, typed := range q["submission"] {
		for _, id := range strings.Fields(typed) {
			if at := strings.LastIndex(strings.TrimSuffix(id, "/"), "/"); at >= 0 {
				id = strings.TrimSuffix(id, "/")[at+1:]
			}
			choice.Submissions = append(choice.Submissions, id)
		}
	}
	return choice
}

// keyQuery is the query of a choice.
func keyQuery(choice service.KeyChoice) url.Values {
	q := url.Values{"make": {"1"}}
	if choice.Region != "" {
		q.Set("region", choice.Region)
	}
	if choice.Expert {
		q.Set("reader", "expert")
	}
	if choice.Preparing {
		q.Set("preparing", "1")
	}
	for _, f := range choice.Families {
		q.Add("family", f)
	}
	for _, id := range choice.Submissions {
		q.Add("submission", id)
	}
	return q
}

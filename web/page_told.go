package web

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/judgement"
	"revidit/web/pages"
)

// toldPage says what the tables make of a list that somebody told freely; without one it asks for it. Nothing is stored.
func (s *Server) toldPage(c *gin.Context) {
	site, err := s.siteOf(c, c.Param("group"))
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.FreeListData{Form: pages.NewForm(map[string][]string{"list": {c.Query("list")}, "family": {c.Query("family")}}), Longest: mostTold}
	if c.Query("list") == "" && c.Query("family") == "" {
		s.page(c, http.StatusOK, pages.FreeList(site, d))
		return
	}
	if d.Assessment, err = s.told(c, site.Book); err == nil {
		s.page(c, http.StatusOK, pages.FreeList(site, d))
		return
	}
	if !again(err) {
		s.fail(c, err)
		return
	}
	d.Form = d.Form.Failed(c.Request.Context(), err, nil)
	s.page(c, pageStatus(err), pages.FreeList(site, d))
}

func (s *Server) told(c *gin.Context, book pages.Book) (*judgement.Assessment, error) {
	judge, err := s.Service.Judge(c.Request.Context(), book.Group.ID)
	if err != nil {
		return nil, err
	}
	var problems review.Problems
	evidence := judgement.Evidence{Stated: readTold(judge, c.Query("list"), &problems, "list")}
	if family := c.Query("family"); family != "" {
		if named := named(book, &problems, "family", family); named != nil {
			evidence.Family = named.Name
		}
	}
	if len(evidence.Stated) == 0 && problems.Err() == nil {
		problems.Addf("list", "names no character; say at least one")
	}
	if err := problems.Err(); err != nil {
		return nil, err
	}
	var list judgement.FreeList
	for _, stated := range evidence.Stated {
		list.Mentioned = append(list.Mentioned, stated.Character)
	}
	evidence.Free = []judgement.FreeList{list}
	assessment := judge.Assess(evidence)
	return &assessment, nil
}

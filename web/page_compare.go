package web

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/web/pages"
)

// comparePage sets two families beside each other; without both it asks for them.
func (s *Server) comparePage(c *gin.Context) {
	site, err := s.siteOf(c, c.Param("group"))
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.CompareData{Form: pages.NewForm(map[string][]string{"a": {c.Query("a")}, "b": {c.Query("b")}})}
	if c.Query("a") == "" || c.Query("b") == "" {
		s.page(c, http.StatusOK, pages.Compare(site, d))
		return
	}
	if err = s.compare(c, site.Book, &d); err == nil {
		s.page(c, http.StatusOK, pages.Compare(site, d))
		return
	}
	if !again(err) {
		s.fail(c, err)
		return
	}
	d.A, d.B, d.Form = nil, nil, d.Form.Failed(c.Request.Context(), err, nil)
	s.page(c, pageStatus(err), pages.Compare(site, d))
}

func (s *Server) compare(c *gin.Context, book pages.Book, d *pages.CompareData) error {
	var problems review.Problems
	d.A = named(book, &problems, "a", c.Query("a"))
	d.B = named(book, &problems, "b", c.Query("b"))
	if d.A != nil && d.A == d.B {
		problems.Addf("b", "is the same as the first; choose another")
	}
	if err := problems.Err(); err != nil {
		return err
	}
	d.Form.Set("a", d.A.Name)
	d.Form.Set("b", d.B.Name)
	judge, err := s.Service.Judge(c.Request.Context(), book.Group.ID)
	if err != nil {
		return err
	}
	separators, err := judge.Separating(d.A.Name, d.B.Name)
	if err != nil {
		return err
	}
	for _, separator := range separators {
		if character, ok := book.Tables.Character(separator.Character); ok {
			d.Rows = append(d.Rows, pages.Compared{Character: character, Bits: separator.Bits})
		}
	}
	return nil
}

// named is the family of a name, old names included; where there is none, that is a problem of the field.
func named(book pages.Book, problems *review.Problems, field, name string) *diagnosis.Family {
	family, _, ok := book.Resolve(strings.TrimSpace(name))
	if !ok {
		problems.Addf(field, "%s", book.NotAName(name))
	}
	return family
}

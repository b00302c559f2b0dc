package web

import (
	"net/http"
	"net/url"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/web/pages"
)

func (s *Server) tablesPage(c *gin.Context) {
	s.pageOfAll(c, http.StatusOK, pages.Tables)
}

func (s *Server) groupPage(c *gin.Context) {
	s.pageOf(c, http.StatusOK, c.Param("group"), pages.Group)
}

// sheetPage shows the diagnosis of a name; an old name leads to the one that holds it today.
func (s *Server) sheetPage(c *gin.Context) {
	site, err := s.siteOf(c, c.Param("group"))
	if err != nil {
		s.fail(c, err)
		return
	}
	name := c.Param("name")
	family, _, ok := site.Book.Resolve(name)
	if !ok {
		s.fail(c, noFamily(site.Book.Tables, name))
		return
	}
	if family.Name != name {
		seeOther(c, tablePath(site.Book, "sheets", family.Name))
		return
	}
	s.page(c, http.StatusOK, pages.Sheet(site, family))
}

func (s *Server) characterPage(c *gin.Context) {
	site, err := s.siteOf(c, c.Param("group"))
	if err != nil {
		s.fail(c, err)
		return
	}
	character, ok := site.Book.Tables.Character(c.Param("id"))
	if !ok {
		s.fail(c, review.Errorf(review.KindNotFound, "These tables have no such character."))
		return
	}
	s.page(c, http.StatusOK, pages.Character(site, character))
}

// formerFamilies and formerFamily are addresses from before there were several groups; they lead to the first.
func (s *Server) formerFamilies(c *gin.Context) {
	site, err := s.siteOf(c, "")
	if err != nil {
		s.fail(c, err)
		return
	}
	seeOther(c, tablePath(site.Book))
}

func (s *Server) formerFamily(c *gin.Context) {
	site, err := s.siteOf(c, "")
	if err != nil {
		s.fail(c, err)
		return
	}
	seeOther(c, tablePath(site.Book, "sheets", c.Param("name")))
}

// tablePath is an address below a group of tables.
func tablePath(b pages.Book, parts ...string) string {
	address := "/tables/" + url.PathEscape(b.Group.ID)
	for _, part := range parts {
		address += "/" + url.PathEscape(part)
	}
	return address
}

// releasesPage lists what was published; everybody may read it.
func (s *Server) releasesPage(c *gin.Context) {
	site, err := s.siteOf(c, c.Param("group"))
	if err != nil {
		s.fail(c, err)
		return
	}
	releases, names, err := s.Service.Releases(c.Request.Context(), site.Book.Group.ID)
	if err != nil {
		s.fail(c, err)
		return
	}
	if err := knownFile(c); err != nil {
		s.fail(c, err)
		return
	}
	if fileAsked(c) {
		s.releasesFile(c, releases, names)
		return
	}
	d := pages.ReleasesData{Releases: releases, Names: names}
	if review.May(actorOf(c), review.ActEditTables, "") {
		doubted, err := s.Service.Doubted(c.Request.Context(), actorOf(c), site.Book.Group.ID)
		if err != nil {
			s.fail(c, err)
			return
		}
		d.Doubted = &doubted
	}
	s.page(c, http.StatusOK, pages.Releases(site, d))
}

// editors is the site of a group for a page that only those see who may change the tables.
func (s *Server) editors(c *gin.Context) (pages.Site, error) {
	site, err := s.siteOf(c, c.Param("group"))
	if err == nil && !review.May(actorOf(c), review.ActEditTables, "") {
		err = review.Errorf(review.KindForbidden, "Only curators change the diagnosis tables. Nothing was changed.")
	}
	return site, err
}

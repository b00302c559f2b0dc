package web

import (
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/web/pages"
)

// partsPage shows the plates of a group, with the part or the parts of the character in red that the address names.
func (s *Server) partsPage(c *gin.Context) {
	site, err := s.siteOf(c, c.Param("group"))
	if err != nil {
		s.fail(c, err)
		return
	}
	d, err := chosenParts(site.Book.Tables, c.Query("part"), c.Query("character"))
	if err != nil {
		s.fail(c, err)
		return
	}
	s.page(c, http.StatusOK, pages.Parts(site, d))
}

func chosenParts(t *diagnosis.Tables, part, character string) (pages.PartsData, error) {
	var d pages.PartsData
	switch {
	case len(t.Plates) == 0:
		return d, review.Errorf(review.KindNotFound, "These tables have no plates of the body.")
	case character != "":
		found, ok := t.Character(character)
		if !ok || t.PlateOf(found) == nil {
			return d, review.Errorf(review.KindNotFound, "These tables have no such character, or it names no part.")
		}
		d.Character = found
	case part != "":
		found, ok := t.Part(part)
		if !ok {
			return d, review.Errorf(review.KindNotFound, "These tables have no such part.")
		}
		d.Part = found
	}
	return d, nil
}

func (s *Server) glossaryPage(c *gin.Context) {
	site, err := s.siteOf(c, c.Param("group"))
	if err == nil && len(site.Book.Parts)+len(site.Book.Terms) == 0 {
		err = review.Errorf(review.KindNotFound, "These tables explain no words.")
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	s.page(c, http.StatusOK, pages.Glossary(site))
}

// shortGlossary is an address to remember; it leads to the glossary of the first group that has one.
func (s *Server) shortGlossary(c *gin.Context) {
	site, err := s.siteOfAll(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	for _, b := range site.Books {
		if len(b.Parts)+len(b.Terms) > 0 {
			seeOther(c, tablePath(b, "glossary"))
			return
		}
	}
	s.fail(c, review.Errorf(review.KindNotFound, "No tables here explain words."))
}

// plateImage sends a plate with parts in red. Like a drawing of a state it may come from another club's tables, and its
// address names their hash.
func (s *Server) plateImage(c *gin.Context) {
	t, err := s.tablesOfHash(c.Request.Context(), c.Param("hash"))
	if err != nil {
		s.fail(c, err)
		return
	}
	plate, ok := t.Plate(c.Param("plate"))
	parts := c.QueryArray("part")
	unknown := slices.ContainsFunc(parts, func(id string) bool { _, known := t.Part(id); return !known })
	if !ok || unknown {
		s.fail(c, noDrawing())
		return
	}
	sendDrawing(c, pages.PlateAlone(t, plate, parts))
}

func noDrawing() error {
	return review.Errorf(review.KindNotFound, "The tables in force have no such drawing.")
}

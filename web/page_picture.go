package web

import (
	"context"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"revidit/review/diagnosis"
)

// leastHash is how many hex digits of a hash an address must give.
const leastHash = 12

// picture sends the drawing of a state.
func (s *Server) picture(c *gin.Context) {
	t, err := s.tablesOfHash(c.Request.Context(), c.Param("hash"))
	if err != nil {
		s.fail(c, err)
		return
	}
	svg, ok := t.Picture(c.Param("character"), c.Param("state"))
	if !ok {
		s.fail(c, noDrawing())
		return
	}
	sendDrawing(c, svg)
}

// sendDrawing sends a drawing whose address names the hash of the tables, so that a browser may keep it for ever.
// Drawings may come from another club's tables: opened by itself, one can load and run nothing.
func sendDrawing(c *gin.Context, svg string) {
	c.Header("Content-Security-Policy", "default-src 'none'; style-src 'none'; sandbox")
	c.Header("Cache-Control", "private, max-age=31536000, immutable")
	c.Data(http.StatusOK, "image/svg+xml", []byte(svg))
}

// tablesOfHash are the tables in force whose hash begins so.
func (s *Server) tablesOfHash(ctx context.Context, hash string) (*diagnosis.Tables, error) {
	judges, err := s.Service.Groups(ctx)
	if err != nil {
		return nil, err
	}
	for _, j := range judges {
		if len(hash) >= leastHash && strings.HasPrefix(j.Tables().Hash, hash) {
			return j.Tables(), nil
		}
	}
	return nil, noDrawing()
}

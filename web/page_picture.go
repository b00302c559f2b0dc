package web

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"revidit/review"
)

// leastHash is how many hex digits of a hash an address must give.
const leastHash = 12

// picture sends the drawing of a state. Its address names the hash of the tables, so that a browser may keep it for
// ever. Drawings may come from another club's tables: opened by itself, one can load and run nothing.
func (s *Server) picture(c *gin.Context) {
	svg, err := s.drawing(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	c.Header("Content-Security-Policy", "default-src 'none'; style-src 'none'; sandbox")
	c.Header("Cache-Control", "private, max-age=31536000, immutable")
	c.Data(http.StatusOK, "image/svg+xml", []byte(svg))
}

func (s *Server) drawing(c *gin.Context) (string, error) {
	judges, err := s.Service.Groups(c.Request.Context())
	if err != nil {
		return "", err
	}
	hash := c.Param("hash")
	for _, j := range judges {
		if len(hash) < leastHash || !strings.HasPrefix(j.Tables().Hash, hash) {
			continue
		}
		if svg, ok := j.Tables().Picture(c.Param("character"), c.Param("state")); ok {
			return svg, nil
		}
	}
	return "", review.Errorf(review.KindNotFound, "The tables in force have no such drawing.")
}

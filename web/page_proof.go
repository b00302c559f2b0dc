package web

import (
	"net/http"
	"strconv"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/web/pages"
)

func (s *Server) registerProofPages(p *gin.RouterGroup) {
	p.GET("/proof", s.proofPage)
	p.GET("/proof/checkpoint", s.checkpointFile)
	p.GET("/submissions/:id/proof", s.eventProof)
}

func (s *Server) proofPage(c *gin.Context) {
	v, err := s.Service.Log(c.Request.Context(), actorOf(c))
	if err != nil {
		s.fail(c, err)
		return
	}
	s.pageOf(c, http.StatusOK, c.Query("group"), func(site pages.Site) templ.Component { return pages.Proof(site, v) })
}

// checkpointFile is the newest checkpoint, to be kept.
func (s *Server) checkpointFile(c *gin.Context) {
	v, err := s.Service.Log(c.Request.Context(), actorOf(c))
	if err == nil && v.Newest == nil {
		err = review.Errorf(review.KindNotFound, "Nothing has been signed yet: that is done within the hour after the first event.")
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	textFile(c, "checkpoint-"+strconv.FormatInt(v.Newest.Size, 10)+".txt", v.Newest.Signed)
}

// eventProof is the proof of one event of a history.
func (s *Server) eventProof(c *gin.Context) {
	seq, err := strconv.Atoi(c.Query("seq"))
	if err != nil {
		s.fail(c, review.Invalidf("seq", "must be the number of an event"))
		return
	}
	text, err := s.Service.ProveEvent(c.Request.Context(), actorOf(c), c.Param("id"), c.Query("stream"), seq)
	if err != nil {
		s.fail(c, err)
		return
	}
	textFile(c, "event-"+strconv.Itoa(seq)+".tlog-proof", text)
}

// textFile answers with a file to save.
func textFile(c *gin.Context, name, text string) {
	c.Header("Content-Disposition", "attachment; filename="+name)
	c.Data(http.StatusOK, "text/plain; charset=utf-8", []byte(text))
}

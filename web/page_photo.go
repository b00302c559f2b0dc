package web

import (
	"net/http"
	"strconv"
	"strings"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/review/service"
	"revidit/web/pages"
)

// photoBytes sends a photo to whoever may see it. A browser keeps it and asks again whether it may be shown.
func (s *Server) photoBytes(c *gin.Context) {
	photo, err := s.Service.Photo(c.Request.Context(), actorOf(c), c.Param("id"), service.Size(c.Param("size")))
	if err != nil {
		s.fail(c, err)
		return
	}
	sendPhoto(c, photo, s.fail)
}

// sendPhoto answers with the bytes of a photo, or that the browser has them. Who may see a photo is decided for each
// person and can change, so that the browser asks again each time; the tag saves it the bytes.
func sendPhoto(c *gin.Context, photo service.PhotoBytes, fail func(*gin.Context, error)) {
	defer photo.Body.Close()
	tag := entityTag{opaque: photo.Tag}
	conditions := Conditions{method: http.MethodGet, IfMatch: strings.Join(c.Request.Header.Values("If-Match"), ", "),
		IfNoneMatch: strings.Join(c.Request.Header.Values("If-None-Match"), ", ")}
	status, err := conditions.reading(tag)
	if err != nil {
		fail(c, err)
		return
	}
	c.Header("ETag", tag.String())
	c.Header("Cache-Control", "private, no-cache")
	c.Header("Content-Security-Policy", "default-src 'none'; sandbox")
	if status == http.StatusNotModified {
		c.Status(status)
		return
	}
	c.DataFromReader(status, -1, photo.Type, photo.Body, nil)
}

// uploadPhotos stores photos as soon as they are chosen and answers with their part of the form. It is for the script
// of a form; without it the form brings them itself.
func (s *Server) uploadPhotos(c *gin.Context) {
	ctx, cancel := patient(c)
	defer cancel()
	c.Request = c.Request.WithContext(ctx)
	sent, err := s.photoForm(c, c.Query("offer") != "")
	if err != nil {
		s.fail(c, err)
		return
	}
	start, err := strconv.Atoi(sent.get("start"))
	if err != nil || start < 0 || start > 2*maxFormPhotos {
		start = 0
	}
	s.pageOf(c, http.StatusOK, c.Query("group"), func(site pages.Site) templ.Component {
		return pages.PhotoItems(site, pages.NewForm(nil), sent.photos, start)
	})
}

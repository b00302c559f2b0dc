package web

import (
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/web/words"
)

// Cookies of a browser: the language that was chosen there, and the zone of its clock, which the script tells.
const (
	languageCookie = "revidit-language"
	zoneCookie     = "revidit-zone"
)

// languageLasts is how long a browser keeps the chosen language.
const languageLasts = 365 * 24 * time.Hour

// speak finds out in which language the answer is to be, and by whose clocks: of pages by the cookies, else and of the API by
// Accept-Language; resolveActor goes by what the person has chosen.
func (s *Server) speak(c *gin.Context) {
	chosen, _ := c.Cookie(languageCookie)
	ctx := words.In(c.Request.Context(), words.Match(chosen, c.GetHeader("Accept-Language")))
	if name, err := c.Cookie(zoneCookie); err == nil {
		if zone, err := time.LoadLocation(name); err == nil && name != "" && name != "Local" {
			ctx = words.InZone(ctx, zone)
		}
	}
	c.Request = c.Request.WithContext(ctx)
}

// chooseLanguage remembers a language in the browser, and leads back.
func (s *Server) chooseLanguage(c *gin.Context) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	tag, ok := words.Of(sent.get("language"))
	if !ok {
		s.fail(c, review.Invalidf("language", "is none in which there are texts"))
		return
	}
	http.SetCookie(c.Writer, &http.Cookie{Name: languageCookie, Value: tag.String(), Path: "/", MaxAge: int(languageLasts / time.Second),
		HttpOnly: true, Secure: s.secured(c), SameSite: http.SameSiteLaxMode})
	seeOther(c, localPath(sent.get("next")))
}

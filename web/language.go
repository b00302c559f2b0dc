package web

import (
	"context"
	"net/http"
	"strings"
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
// Accept-Language. What a person has chosen is known later (speakAs).
func (s *Server) speak(c *gin.Context) {
	chosen, _ := c.Cookie(languageCookie)
	if ofAPI(c) || isPublic(c) {
		chosen = ""
	}
	ctx := words.In(c.Request.Context(), words.Match(chosen, c.GetHeader("Accept-Language")))
	if name, err := c.Cookie(zoneCookie); err == nil && !isPublic(c) {
		if zone, err := time.LoadLocation(name); err == nil && name != "" && name != "Local" && name != "Etc/UTC" {
			ctx = words.InZone(ctx, zone)
		}
	}
	c.Request = c.Request.WithContext(ctx)
}

func ofAPI(c *gin.Context) bool { return strings.HasPrefix(c.Request.URL.Path, apiPrefix) }

// speakAs goes on in the language that a person has chosen, where they have; a program that asks the API for another gets that.
func speakAs(c *gin.Context, chosen string) {
	tag, ok := words.Of(chosen)
	if !ok || ofAPI(c) && c.GetHeader("Accept-Language") != "" {
		return
	}
	c.Request = c.Request.WithContext(words.In(c.Request.Context(), tag))
	if sender, ok := c.Value(keySender).(context.Context); ok {
		c.Set(keySender, words.In(sender, tag))
	}
}

// chooseLanguage remembers a language in the browser, and with the person where one is logged in, and leads back.
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
	if actor := actorOf(c); actor.Person != "" {
		if err := s.Service.SetLanguage(c.Request.Context(), actor, tag.String()); err != nil {
			s.fail(c, err)
			return
		}
	}
	http.SetCookie(c.Writer, &http.Cookie{Name: languageCookie, Value: tag.String(), Path: "/", MaxAge: int(languageLasts / time.Second),
		HttpOnly: true, Secure: s.secured(c), SameSite: http.SameSiteLaxMode})
	seeOther(c, localPath(sent.get("next")))
}

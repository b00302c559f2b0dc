package web

import (
	"context"
	"log/slog"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"revidit/auth"
)

// security writes the one kind of line that tells of logins, of what was refused, and of what leaves the house or is done to an
// account: who (the login of an account, empty where there is none), from which address, and the request where it is known.
// No password, token or text of a request is in it.
func (s *Server) security(level slog.Level, event, account, address, request string, more ...any) {
	line := append([]any{"event", event, "account", account, "address", address, "request_id", request}, more...)
	s.Security.Log(context.Background(), level, "security", line...)
}

// attempted logs an attempt to log in.
func (s *Server) attempted(a auth.Attempt) {
	level := slog.LevelWarn
	if a.Outcome == auth.LoggedIn {
		level = slog.LevelInfo
	}
	s.security(level, string(a.Outcome), a.Login, a.Address, "")
}

// changed logs what was done to an account, and who did it in which request.
func (s *Server) changed(ctx context.Context, what auth.Happening, login string) {
	by, _ := ctx.Value(doerKey{}).(doer)
	s.security(slog.LevelWarn, string(what), login, by.address, by.request, "by", by.login)
}

// doer is who does something, for the log.
type doer struct{ login, address, request string }

// doerKey is under which it stands in the context of a request.
type doerKey struct{}

// know puts who acts where the log of what they do to accounts finds it.
func know(c *gin.Context) {
	who := doer{c.GetString(keyLogin), c.ClientIP(), requestID(c)}
	c.Request = c.Request.WithContext(context.WithValue(c.Request.Context(), doerKey{}, who))
}

// tell logs that a file left the house: whatever is answered as one that is to be kept.
func (s *Server) tell(c *gin.Context) {
	c.Next()
	if c.Writer.Status() == http.StatusOK && strings.HasPrefix(c.Writer.Header().Get("Content-Disposition"), "attachment") {
		s.security(slog.LevelInfo, "file handed over", c.GetString(keyLogin), c.ClientIP(), requestID(c), "route", c.FullPath())
	}
}

// ended logs that a request came with a token by which nobody is logged in: whose it was, if it was ever one of ours.
func (s *Server) ended(c *gin.Context, token string) {
	login, ours, err := s.Accounts.Formerly(c.Request.Context(), token)
	if err != nil {
		s.fail(c, err)
		return
	}
	event := "login has ended"
	if !ours {
		event = "unknown token"
	}
	s.security(slog.LevelWarn, event, login, c.ClientIP(), requestID(c))
}

// refused logs that a request was refused to whoever acts in it.
func (s *Server) refused(c *gin.Context, event string) {
	s.security(slog.LevelWarn, event, c.GetString(keyLogin), c.ClientIP(), requestID(c))
}
